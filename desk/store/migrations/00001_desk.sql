-- Types are those both databases read alike: TEXT, BIGINT (numbers, flags and
-- microseconds since 1970 UTC, NULL for never) and DOUBLE PRECISION. JSON is
-- TEXT: no query looks into it.

-- +goose Up
CREATE TABLE requests (
	id        TEXT PRIMARY KEY NOT NULL,
	version   BIGINT NOT NULL,
	code      TEXT NOT NULL,
	state     TEXT NOT NULL,
	branch    TEXT NOT NULL,
	source    TEXT NOT NULL,
	form      TEXT NOT NULL,
	key_hash  TEXT NOT NULL,
	key_seed  TEXT NOT NULL,
	patron    TEXT NOT NULL,
	reason    TEXT NOT NULL,
	asked     BIGINT,
	changed   BIGINT,
	due       BIGINT,
	reminded  BIGINT,
	closed    BIGINT,
	forgotten BIGINT,
	contact   TEXT NOT NULL,
	wish      TEXT NOT NULL,
	plan      TEXT NOT NULL,
	basis     TEXT NOT NULL,
	ways      TEXT NOT NULL,
	quote     TEXT NOT NULL,
	agreement TEXT NOT NULL,
	checklist TEXT NOT NULL,
	shelf     TEXT NOT NULL
);
CREATE UNIQUE INDEX requests_code ON requests (code) WHERE forgotten IS NULL;
CREATE UNIQUE INDEX requests_form ON requests (form) WHERE form <> '';
CREATE UNIQUE INDEX requests_key ON requests (key_hash) WHERE key_hash <> '';
CREATE INDEX requests_patron ON requests (patron, asked);
-- Both hold all a list is chosen and ordered by, so that rows, which are
-- long, are fetched only where they are shown.
CREATE INDEX requests_asked ON requests (asked, id, state, branch, forgotten);
CREATE INDEX requests_state ON requests (state, branch, asked, id, forgotten);
CREATE INDEX requests_due ON requests (due) WHERE due IS NOT NULL;
-- What is forgotten only grows: the clock must not go through all of it.
CREATE INDEX requests_closed ON requests (closed, asked, id, state, branch) WHERE forgotten IS NULL;

-- What a search looks through: a line for each request and each of its files,
-- folded. It is apart because a search reads all of it.
CREATE TABLE search (
	owner   TEXT PRIMARY KEY NOT NULL,
	request TEXT NOT NULL REFERENCES requests (id),
	folded  TEXT NOT NULL
);
CREATE INDEX search_request ON search (request);

CREATE TABLE files (
	id           TEXT PRIMARY KEY NOT NULL,
	request      TEXT NOT NULL REFERENCES requests (id),
	name         TEXT NOT NULL,
	hash         TEXT NOT NULL,
	size         BIGINT NOT NULL,
	sent         BIGINT,
	check_state  TEXT NOT NULL,
	doing        TEXT NOT NULL,
	result       TEXT NOT NULL
);
CREATE INDEX files_request ON files (request);
CREATE INDEX files_hash ON files (hash);

-- Bytes a request uses that no file of it is: pictures and views.
CREATE TABLE refs (
	request TEXT NOT NULL REFERENCES requests (id),
	hash    TEXT NOT NULL,
	PRIMARY KEY (request, hash)
);
CREATE INDEX refs_hash ON refs (hash);

CREATE TABLE messages (
	id      TEXT PRIMARY KEY NOT NULL,
	request TEXT NOT NULL REFERENCES requests (id),
	form    TEXT NOT NULL,
	sender  TEXT NOT NULL,
	who     TEXT NOT NULL,
	subject TEXT NOT NULL,
	body    TEXT NOT NULL,
	at      BIGINT,
	seen    BIGINT
);
CREATE UNIQUE INDEX messages_form ON messages (request, form) WHERE form <> '';
CREATE INDEX messages_request ON messages (request, at, id);
CREATE INDEX messages_unseen ON messages (sender, request) WHERE seen IS NULL;

CREATE TABLE events (
	id      TEXT PRIMARY KEY NOT NULL,
	request TEXT NOT NULL REFERENCES requests (id),
	version BIGINT NOT NULL,
	at      BIGINT,
	kind    TEXT NOT NULL,
	who     TEXT NOT NULL,
	what    TEXT NOT NULL,
	say     TEXT NOT NULL,
	was     TEXT NOT NULL,
	became  TEXT NOT NULL
);
CREATE INDEX events_request ON events (request, version, at, id);

CREATE TABLE charges (
	id       TEXT PRIMARY KEY NOT NULL,
	request  TEXT NOT NULL REFERENCES requests (id),
	form     TEXT NOT NULL,
	kind     TEXT NOT NULL,
	amount   TEXT NOT NULL,
	currency TEXT NOT NULL,
	reason   TEXT NOT NULL,
	who      TEXT NOT NULL,
	at       BIGINT,
	price    TEXT NOT NULL
);
CREATE UNIQUE INDEX charges_form ON charges (request, form) WHERE form <> '';
CREATE INDEX charges_request ON charges (request, at, id);

CREATE TABLE runs (
	id      TEXT PRIMARY KEY NOT NULL,
	version BIGINT NOT NULL,
	form    TEXT NOT NULL,
	branch  TEXT NOT NULL,
	printer TEXT NOT NULL,
	state   TEXT NOT NULL,
	started BIGINT,
	expect  BIGINT,
	ended   BIGINT,
	by_whom TEXT NOT NULL,
	last_form TEXT NOT NULL,
	parts   TEXT NOT NULL,
	spools  TEXT NOT NULL,
	failure TEXT NOT NULL
);
CREATE UNIQUE INDEX runs_form ON runs (form) WHERE form <> '';
CREATE INDEX runs_state ON runs (state, branch, started);
CREATE INDEX runs_printer ON runs (printer, started);
CREATE INDEX runs_started ON runs (started);

-- Which requests a run prints, as its parts say.
CREATE TABLE run_requests (
	run     TEXT NOT NULL REFERENCES runs (id),
	request TEXT NOT NULL,
	PRIMARY KEY (run, request)
);
CREATE INDEX run_requests_request ON run_requests (request);

CREATE TABLE spools (
	id         TEXT PRIMARY KEY NOT NULL,
	version    BIGINT NOT NULL,
	name       TEXT NOT NULL,
	branch     TEXT NOT NULL,
	material   TEXT NOT NULL,
	colour     TEXT NOT NULL,
	hex        TEXT NOT NULL,
	grams      DOUBLE PRECISION NOT NULL,
	full_grams DOUBLE PRECISION NOT NULL,
	loaded     TEXT NOT NULL,
	retired    BIGINT NOT NULL,
	form       TEXT NOT NULL
);

CREATE TABLE spool_lines (
	id    TEXT PRIMARY KEY NOT NULL,
	spool TEXT NOT NULL REFERENCES spools (id),
	at    BIGINT,
	who   TEXT NOT NULL,
	grams DOUBLE PRECISION NOT NULL,
	why   TEXT NOT NULL,
	run   TEXT NOT NULL
);
CREATE INDEX spool_lines_spool ON spool_lines (spool, at, id);

CREATE TABLE branches (
	id      TEXT PRIMARY KEY NOT NULL,
	version BIGINT NOT NULL,
	name    TEXT NOT NULL,
	place   TEXT NOT NULL,
	hours   TEXT NOT NULL,
	closed  TEXT NOT NULL,
	shut    BIGINT NOT NULL
);

CREATE TABLE printers (
	id      TEXT PRIMARY KEY NOT NULL,
	version BIGINT NOT NULL,
	name    TEXT NOT NULL,
	branch  TEXT NOT NULL,
	model   TEXT NOT NULL,
	out     TEXT NOT NULL,
	retired BIGINT NOT NULL
);

CREATE TABLE staff (
	id       TEXT PRIMARY KEY NOT NULL,
	version  BIGINT NOT NULL,
	name     TEXT NOT NULL,
	folded   TEXT NOT NULL,
	called   TEXT NOT NULL,
	password TEXT NOT NULL,
	grants   TEXT NOT NULL,
	home     TEXT NOT NULL,
	active   BIGINT NOT NULL,
	made     BIGINT,
	renewed  BIGINT,
	one_time BIGINT NOT NULL
);
CREATE UNIQUE INDEX staff_folded ON staff (folded);

CREATE TABLE logins (
	id        TEXT PRIMARY KEY NOT NULL,
	at        BIGINT,
	name      TEXT NOT NULL,
	folded    TEXT NOT NULL,
	from_addr TEXT NOT NULL,
	ok        BIGINT NOT NULL,
	why       TEXT NOT NULL
);
CREATE INDEX logins_at ON logins (at);
CREATE INDEX logins_folded ON logins (folded, at);
CREATE INDEX logins_from ON logins (from_addr, at);

CREATE TABLE settings (
	kind    TEXT NOT NULL,
	version BIGINT NOT NULL,
	body    TEXT NOT NULL,
	since   BIGINT,
	by_whom TEXT NOT NULL,
	PRIMARY KEY (kind, version)
);

CREATE TABLE tallies (
	id       TEXT PRIMARY KEY NOT NULL,
	month    TEXT NOT NULL,
	branch   TEXT NOT NULL,
	state    TEXT NOT NULL,
	material TEXT NOT NULL,
	copies   BIGINT NOT NULL,
	runs     BIGINT NOT NULL,
	failed   BIGINT NOT NULL,
	grams    DOUBLE PRECISION NOT NULL,
	seconds  DOUBLE PRECISION NOT NULL,
	paid     TEXT NOT NULL,
	currency TEXT NOT NULL
);
CREATE INDEX tallies_month ON tallies (month);

CREATE TABLE shapes (
	id     TEXT PRIMARY KEY NOT NULL,
	shape  TEXT NOT NULL,
	code   TEXT NOT NULL,
	reason TEXT NOT NULL,
	at     BIGINT
);

CREATE TABLE sessions (
	token   TEXT PRIMARY KEY NOT NULL, -- its hash
	data    TEXT NOT NULL,             -- base64
	expires BIGINT NOT NULL
);
CREATE INDEX sessions_expires ON sessions (expires);

-- While a backup runs, no file's bytes are taken away.
CREATE TABLE holds (
	name  TEXT PRIMARY KEY NOT NULL,
	until BIGINT NOT NULL
);

-- +goose Down
DROP TABLE holds;
DROP TABLE sessions;
DROP TABLE shapes;
DROP TABLE tallies;
DROP TABLE settings;
DROP TABLE logins;
DROP TABLE staff;
DROP TABLE printers;
DROP TABLE branches;
DROP TABLE spool_lines;
DROP TABLE spools;
DROP TABLE run_requests;
DROP TABLE runs;
DROP TABLE charges;
DROP TABLE events;
DROP TABLE messages;
DROP TABLE refs;
DROP TABLE files;
DROP TABLE search;
DROP TABLE requests;
