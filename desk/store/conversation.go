package store

import (
	"platebook/desk"
)

// SaveMessage is desk.Tx's.
func (x *tx) SaveMessage(m *desk.Message) error {
	if m.ID == "" {
		m.ID = desk.NewID()
	}
	return upsert(x, messages, m)
}

// Messages is desk.Tx's.
func (x *tx) Messages(request desk.ID) ([]desk.Message, error) {
	return messages.list(x, "WHERE request = $1 ORDER BY at, id", request)
}

// MessageByForm is desk.Tx's.
func (x *tx) MessageByForm(request desk.ID, form string) (desk.Message, error) {
	return messages.one(x, "WHERE request = $1 AND form = $2 AND form <> ''", request, form)
}

// DeleteMessages is desk.Tx's.
func (x *tx) DeleteMessages(request desk.ID) error {
	_, err := x.exec("DELETE FROM messages WHERE request = $1", request)
	return err
}

// LastMessages is desk.Tx's.
func (x *tx) LastMessages(requests []desk.ID) (map[desk.ID]desk.Message, error) {
	last := map[desk.ID]desk.Message{}
	if len(requests) == 0 {
		return last, nil
	}
	w := &where{}
	among(w, "request", requests)
	w.add("NOT EXISTS (SELECT 1 FROM messages n WHERE n.request = messages.request AND (n.at, n.id) > (messages.at, messages.id))")
	all, err := messages.list(x, w.String(), w.args...)
	for _, m := range all {
		last[m.Request] = m
	}
	return last, err
}

// Unanswered is desk.Tx's.
func (x *tx) Unanswered(branches []desk.ID) ([]desk.ID, error) {
	w := &where{}
	w.add("m.sender = ? AND m.seen IS NULL", string(desk.ByPatron))
	among(w, "r.branch", branches)
	var ids []desk.ID
	err := x.rows("SELECT m.request, min(m.at), min(m.id) FROM messages m JOIN requests r ON r.id = m.request "+w.String()+
		" GROUP BY m.request ORDER BY 2, 3", w.args,
		func(scan func(...any) error) error {
			var id, first desk.ID
			var at int64
			if err := scan(&id, &at, &first); err != nil {
				return err
			}
			ids = append(ids, id)
			return nil
		})
	return ids, err
}

// AddEvent is desk.Tx's.
func (x *tx) AddEvent(e *desk.Event) error {
	return addOnce(x, events, e, &e.ID)
}

// addOnce adds a row that is never changed.
func addOnce[T any](x *tx, t table[T], v *T, id *desk.ID) error {
	if *id == "" {
		*id = desk.NewID()
	}
	ok, err := t.add(x, v)
	if err == nil && !ok {
		err = desk.Faultf(desk.NotNow, "This form was sent before, and its %s is here already.", t.noun)
	}
	return err
}

// Events is desk.Tx's, oldest first.
func (x *tx) Events(request desk.ID, afterVersion int64) ([]desk.Event, error) {
	return events.list(x, "WHERE request = $1 AND version > $2 ORDER BY version, at, id", request, afterVersion)
}

// ScrubEvents is desk.Tx's.
func (x *tx) ScrubEvents(request desk.ID) error {
	_, err := x.exec(`UPDATE events SET say = '', was = '', became = '',
		who = CASE WHEN kind = $2 THEN '' ELSE who END WHERE request = $1`, request, string(desk.ByPatron))
	return err
}

// AddCharge is desk.Tx's.
func (x *tx) AddCharge(c *desk.Charge) error { return addOnce(x, charges, c, &c.ID) }

// ScrubCharges is desk.Tx's.
func (x *tx) ScrubCharges(request desk.ID) error {
	_, err := x.exec("UPDATE charges SET reason = '', form = '' WHERE request = $1", request)
	return err
}

// Charges is desk.Tx's, oldest first.
func (x *tx) Charges(request desk.ID) ([]desk.Charge, error) {
	return charges.list(x, "WHERE request = $1 ORDER BY at, id", request)
}
