-- Letters that came to the library's mailbox, and letters on their way out.

-- +goose Up
CREATE TABLE mails (
	id      TEXT PRIMARY KEY NOT NULL,
	hash    TEXT NOT NULL,
	mail_id TEXT NOT NULL,
	state   TEXT NOT NULL,
	request TEXT NOT NULL, -- may be made after the letter is kept
	came    BIGINT,
	by_whom TEXT NOT NULL,
	empty   BIGINT NOT NULL, -- 1 when what it said is forgotten
	body    TEXT NOT NULL
);
CREATE UNIQUE INDEX mails_hash ON mails (hash);
CREATE INDEX mails_mail_id ON mails (mail_id) WHERE mail_id <> '';
CREATE INDEX mails_request ON mails (request, came) WHERE request <> '';
CREATE INDEX mails_state ON mails (state, came);

-- Where each was seen: mailbox, UIDVALIDITY, UID (RFC 9051 section 2.3.1.1).
CREATE TABLE mail_places (
	mailbox  TEXT NOT NULL,
	validity BIGINT NOT NULL,
	uid      BIGINT NOT NULL,
	hash     TEXT NOT NULL,
	PRIMARY KEY (mailbox, validity, uid)
);

-- Files of letters that wait for a person.
CREATE TABLE mail_refs (
	mail TEXT NOT NULL REFERENCES mails (id),
	hash TEXT NOT NULL,
	PRIMARY KEY (mail, hash)
);
CREATE INDEX mail_refs_hash ON mail_refs (hash);

CREATE TABLE posted (
	id      TEXT PRIMARY KEY NOT NULL,
	request TEXT NOT NULL,
	message TEXT NOT NULL,
	mail_id TEXT NOT NULL,
	state   TEXT NOT NULL,
	made    BIGINT,
	next    BIGINT,
	sent    BIGINT,
	tries   BIGINT NOT NULL,
	trouble TEXT NOT NULL,
	body    TEXT NOT NULL
);
CREATE UNIQUE INDEX posted_mail_id ON posted (mail_id);
CREATE INDEX posted_request ON posted (request, made) WHERE request <> '';
CREATE INDEX posted_next ON posted (next) WHERE next IS NOT NULL;
CREATE INDEX posted_state ON posted (state, made);

-- +goose Down
DROP TABLE posted;
DROP TABLE mail_refs;
DROP TABLE mail_places;
DROP TABLE mails;
