package store

import (
	"encoding/json"
	"slices"
	"strings"
	"time"

	"platebook/desk"
)

var mails = newTable("mails", "letter", func(l *desk.Mail) []column {
	return []column{
		{"id", text(&l.ID)},
		{"hash", text(&l.Hash)},
		{"mail_id", text(&l.MailID)},
		{"state", text(&l.State)},
		{"request", text(&l.Request)},
		{"came", when(&l.Came)},
		{"by_whom", text(&l.By)},
		{"empty", flag(&l.Empty)},
		{"body", doc(&l.Body)},
	}
})

var posted = newTable("posted", "letter", func(p *desk.Posted) []column {
	return []column{
		{"id", text(&p.ID)},
		{"request", text(&p.Request)},
		{"message", text(&p.Message)},
		{"mail_id", text(&p.MailID)},
		{"state", text(&p.State)},
		{"made", when(&p.Made)},
		{"next", when(&p.Next)},
		{"sent", when(&p.Sent)},
		{"tries", number(&p.Tries)},
		{"trouble", text(&p.Trouble)},
		{"body", doc(&p.Body)},
	}
})

// PlaceMail is desk.Tx's.
func (x *tx) PlaceMail(at desk.MailPlace, letter desk.Hash) error {
	_, err := x.exec("INSERT INTO mail_places (mailbox, validity, uid, hash) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING",
		at.Mailbox, int64(at.Validity), int64(at.UID), letter)
	return err
}

// FreshMail is desk.Tx's.
func (x *tx) FreshMail(mailbox string, validity uint32, uids []uint32) ([]uint32, error) {
	var fresh []uint32
	for some := range slices.Chunk(uids, 500) {
		known := map[int64]bool{}
		err := x.rows("SELECT uid FROM mail_places WHERE mailbox = $1 AND validity = $2 AND uid BETWEEN $3 AND $4",
			[]any{mailbox, int64(validity), int64(slices.Min(some)), int64(slices.Max(some))},
			func(scan func(...any) error) error {
				var u int64
				if err := scan(&u); err != nil {
					return err
				}
				known[u] = true
				return nil
			})
		if err != nil {
			return nil, err
		}
		for _, u := range some {
			if !known[int64(u)] {
				fresh = append(fresh, u)
			}
		}
	}
	return fresh, nil
}

// SaveMail is desk.Tx's.
func (x *tx) SaveMail(l *desk.Mail) error {
	if l.ID == "" {
		l.ID = desk.NewID()
	}
	return upsert(x, mails, l)
}

// Mail is desk.Tx's.
func (x *tx) Mail(id desk.ID) (desk.Mail, error) { return mails.one(x, "WHERE id = $1", id) }

// MailByHash is desk.Tx's.
func (x *tx) MailByHash(h desk.Hash) (desk.Mail, error) { return mails.one(x, "WHERE hash = $1", h) }

// MailByID is desk.Tx's.
func (x *tx) MailByID(mailID string) ([]desk.Mail, error) {
	return mails.list(x, "WHERE mail_id = $1 AND mail_id <> '' ORDER BY came, id LIMIT 20", mailID)
}

// ListMail is desk.Tx's.
func (x *tx) ListMail(states []desk.MailState, most int) ([]desk.Mail, error) {
	w := &where{}
	among(w, "state", states)
	return mails.list(x, w.String()+" ORDER BY came, id"+limit(most), w.args...)
}

// PageMail is desk.Tx's.
func (x *tx) PageMail(states []desk.MailState, after desk.ID, most int) ([]desk.Mail, error) {
	w := &where{}
	among(w, "state", states)
	w.add("empty = 0")
	if after != "" {
		l, err := x.Mail(after)
		if err != nil {
			return nil, err
		}
		at := micros(l.Came)
		w.add("(came < ? OR came = ? AND id < ?)", at, at, after)
	}
	return mails.list(x, w.String()+" ORDER BY came DESC, id DESC"+limit(most), w.args...)
}

// MailOf is desk.Tx's.
func (x *tx) MailOf(request desk.ID) ([]desk.Mail, error) {
	if request == "" {
		return nil, nil
	}
	return mails.list(x, "WHERE request = $1 ORDER BY came, id", request)
}

// HoldMail is desk.Tx's.
func (x *tx) HoldMail(letter desk.ID, hashes ...desk.Hash) error {
	if _, err := x.exec("DELETE FROM mail_refs WHERE mail = $1", letter); err != nil {
		return err
	}
	for _, h := range hashes {
		if _, err := x.exec("INSERT INTO mail_refs (mail, hash) VALUES ($1, $2) ON CONFLICT DO NOTHING", letter, h); err != nil {
			return err
		}
	}
	return nil
}

// ForgetOldMail is desk.Tx's.
func (x *tx) ForgetOldMail(before time.Time) error {
	_, err := x.exec("UPDATE mails SET body = '{}', mail_id = '', by_whom = '', empty = 1 WHERE request = '' AND state <> $1 AND empty = 0 AND came < $2",
		string(desk.MailWaits), before.UnixMicro())
	if err != nil {
		return err
	}
	if _, err := x.exec("DELETE FROM mail_refs WHERE mail IN (SELECT id FROM mails WHERE empty = 1)"); err != nil {
		return err
	}
	_, err = x.exec("DELETE FROM posted WHERE request = '' AND state <> $1 AND made < $2", string(desk.PostWaits), before.UnixMicro())
	return err
}

// SavePosted is desk.Tx's.
func (x *tx) SavePosted(p *desk.Posted) error {
	if p.ID == "" {
		p.ID = desk.NewID()
	}
	return upsert(x, posted, p)
}

// Posted is desk.Tx's.
func (x *tx) Posted(id desk.ID) (desk.Posted, error) { return posted.one(x, "WHERE id = $1", id) }

// PostedByMailID is desk.Tx's.
func (x *tx) PostedByMailID(id string) (desk.Posted, error) {
	return posted.one(x, "WHERE mail_id = $1", id)
}

// DuePosted is desk.Tx's.
func (x *tx) DuePosted(now time.Time, most int) ([]desk.Posted, error) {
	return posted.list(x, "WHERE next IS NOT NULL AND next <= $1 ORDER BY next, id"+limit(most), now.UnixMicro())
}

// ListPosted is desk.Tx's.
func (x *tx) ListPosted(states []desk.PostState, most int) ([]desk.Posted, error) {
	w := &where{}
	among(w, "state", states)
	return posted.list(x, w.String()+" ORDER BY made DESC, id DESC"+limit(most), w.args...)
}

// PostedOf is desk.Tx's.
func (x *tx) PostedOf(request desk.ID) ([]desk.Posted, error) {
	return posted.list(x, "WHERE request = $1 AND request <> '' ORDER BY made, id", request)
}

// PostedTo is desk.Tx's. The pattern only leaves out most of the others: what an
// address is stands in the letter.
func (x *tx) PostedTo(address string, since time.Time) ([]desk.Posted, error) {
	if address == "" || len(address) > longestSearch {
		return nil, nil
	}
	written, err := json.Marshal(strings.ToLower(address)) // as it stands in the body
	if err != nil {
		return nil, err
	}
	all, err := posted.list(x, `WHERE made >= $1 AND lower(body) LIKE $2 ESCAPE '\' ORDER BY made DESC, id DESC`,
		micros(since), "%"+likeEscapes.Replace(string(written))+"%")
	return slices.DeleteFunc(all, func(p desk.Posted) bool { return !strings.EqualFold(p.Body.To, address) }), err
}

// RequestOfLetter is desk.Tx's.
func (x *tx) RequestOfLetter(mailID string) (desk.ID, error) {
	p, err := x.PostedByMailID(mailID)
	if err == nil && p.Request != "" {
		return p.Request, nil
	} else if err != nil && desk.KindOf(err) != desk.NotFound {
		return "", err
	}
	l, err := mails.one(x, "WHERE mail_id = $1 AND mail_id <> '' AND request <> '' AND state = $2 ORDER BY came DESC LIMIT 1", mailID, string(desk.MailPlaced))
	return l.Request, err
}

// Thread is desk.Tx's.
func (x *tx) Thread(request desk.ID) ([]string, error) {
	var ids []string
	var last string
	err := x.rows(`SELECT mail_id, came, 1 FROM mails WHERE request = $1 AND request <> '' AND mail_id <> '' AND empty = 0 AND state = $2
		UNION ALL SELECT mail_id, made, 0 FROM posted WHERE request = $1 AND request <> '' ORDER BY 2`, []any{request, string(desk.MailPlaced)},
		func(scan func(...any) error) error {
			var id string
			var at, theirs int64
			if err := scan(&id, &at, &theirs); err != nil {
				return err
			}
			ids = append(ids, id)
			if theirs == 1 {
				last = id
			}
			return nil
		})
	if err != nil || last == "" {
		return ids, err
	}
	at := slices.Index(ids, last)
	return append(slices.Delete(ids, at, at+1), last), nil
}

// ForgetMail is desk.Tx's.
func (x *tx) ForgetMail(request desk.ID) error {
	if request == "" {
		return nil
	}
	if _, err := x.exec("DELETE FROM posted WHERE request = $1", request); err != nil {
		return err
	}
	_, err := x.exec("UPDATE mails SET body = '{}', mail_id = '', by_whom = '', empty = 1 WHERE request = $1", request)
	return err
}
