package store

import (
	"time"

	"platebook/desk"
)

// SaveRequest is desk.Tx's.
func (x *tx) SaveRequest(r *desk.Request) error {
	if err := requests.save(x, r, &r.ID, &r.Version, func() error { return x.requestClash(r) }); err != nil {
		return err
	}
	return x.index(r.ID, r.ID, string(r.Code)+" "+r.Contact.Name+" "+r.Contact.Surname+" "+r.Contact.Email)
}

// requestClash says which of a new request's names another has.
func (x *tx) requestClash(r *desk.Request) error {
	if r.Form != "" {
		if _, err := x.RequestByForm(r.Form); desk.KindOf(err) != desk.NotFound {
			return orElse(err, desk.Faultf(desk.NotNow, "This form was sent before, and its request is here already."))
		}
	}
	if _, err := x.RequestByCode(r.Code); desk.KindOf(err) != desk.NotFound {
		return orElse(err, &desk.Fault{Kind: desk.TooMany, Say: "The code drawn for the request belongs to another. Send it again to draw a new one.",
			Fields: map[string]string{"code": "taken"}})
	}
	return nil
}

func orElse(err, otherwise error) error {
	if err != nil {
		return err
	}
	return otherwise
}

// index keeps what a search finds a request by.
func (x *tx) index(owner, request desk.ID, words string) error {
	_, err := x.exec(`INSERT INTO search (owner, request, folded) VALUES ($1, $2, $3)
		ON CONFLICT (owner) DO UPDATE SET request = excluded.request, folded = excluded.folded`, owner, request, fold(words))
	return err
}

// Request is desk.Tx's.
func (x *tx) Request(id desk.ID) (desk.Request, error) {
	return requests.one(x, "WHERE id = $1", id)
}

// RequestByCode is desk.Tx's.
func (x *tx) RequestByCode(c desk.Code) (desk.Request, error) {
	return requests.one(x, "WHERE code = $1 AND forgotten IS NULL", c)
}

// RequestByKey is desk.Tx's.
func (x *tx) RequestByKey(h desk.Hash) (desk.Request, error) {
	return requests.one(x, "WHERE key_hash = $1 AND key_hash <> ''", h)
}

// RequestByForm is desk.Tx's.
func (x *tx) RequestByForm(form string) (desk.Request, error) {
	return requests.one(x, "WHERE form = $1 AND form <> ''", form)
}

var briefRequests = requests.without("ways").without("quote")

// ListRequests is desk.Tx's.
func (x *tx) ListRequests(f desk.RequestFilter) ([]desk.Request, error) {
	q, rows := requestQuery(f), requests
	if f.Brief {
		rows = briefRequests
	}
	return rows.list(x, q.sql, q.args...)
}

type query struct {
	sql  string // what comes after FROM requests
	args []any
}

// requestQuery settles on indices alone which rows a list has, and only those
// are read: rows are long.
func requestQuery(f desk.RequestFilter) query {
	w, order := requestWhere(f), " ORDER BY asked, id"
	switch {
	case f.Newest:
		order = " ORDER BY asked DESC, id DESC"
	case f.Soonest: // NULL comes first in one database and last in the other
		order = " ORDER BY CASE WHEN due IS NULL THEN 1 ELSE 0 END, due, asked, id"
	}
	if f.After != "" {
		is := " > "
		if f.Newest {
			is = " < "
		}
		w.add("(asked, id)"+is+"((SELECT a.asked FROM requests a WHERE a.id = ?), ?)", f.After, f.After)
	}
	which := w.String()
	if f.Most > 0 { // else the order would only lead the database to another index
		which += order + limit(f.Most)
	}
	return query{"WHERE id IN (SELECT id FROM requests " + which + ")" + order, w.args}
}

// CountRequests is desk.Tx's.
func (x *tx) CountRequests(f desk.RequestFilter) (map[desk.State]int, error) {
	counts := map[desk.State]int{}
	w := requestWhere(f)
	err := x.rows("SELECT state, count(*) FROM requests "+w.String()+" GROUP BY state", w.args, func(scan func(...any) error) error {
		var s desk.State
		var n int
		if err := scan(&s, &n); err != nil {
			return err
		}
		counts[s] = n
		return nil
	})
	return counts, err
}

func requestWhere(f desk.RequestFilter) *where {
	w := &where{}
	among(w, "id", f.IDs)
	among(w, "state", f.States)
	among(w, "branch", f.Branches)
	if f.Patron != "" {
		w.add("patron = ?", f.Patron)
	}
	since := func(cond string, t time.Time) {
		if !t.IsZero() {
			w.add(cond, micros(t))
		}
	}
	since("asked >= ?", f.AskedSince)
	since("due <= ?", f.DueBy)
	since("closed <= ?", f.ClosedBy)
	if f.Unforgotten {
		w.add("forgotten IS NULL")
	}
	if f.Text != "" {
		w.add(`id IN (SELECT request FROM search WHERE folded LIKE ? ESCAPE '\')`, like(f.Text))
	}
	return w
}
