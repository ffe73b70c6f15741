package store

import (
	"time"

	"platebook/desk"
)

// SaveStaff is desk.Tx's. A name another account has is a Wrong Fault.
func (x *tx) SaveStaff(s *desk.Staff) error {
	row := staffRow{Staff: *s, folded: foldName(s.Name)}
	taken := func() error {
		other, err := x.StaffByName(s.Name)
		if desk.KindOf(err) == desk.NotFound || err == nil && other.ID == s.ID {
			return nil
		}
		return orElse(err, &desk.Fault{Kind: desk.Wrong, Say: "Another account has this name. Choose another name to log in with.",
			Fields: map[string]string{"name": "Another account has this name."}})
	}
	if row.Version != 0 { // an update cannot be told to leave a clash be
		if err := taken(); err != nil {
			return err
		}
	}
	was := *s
	x.undo = append(x.undo, func() { s.ID, s.Version = was.ID, was.Version })
	if err := staff.save(x, &row, &row.ID, &row.Version, taken); err != nil {
		return err
	}
	s.ID, s.Version = row.ID, row.Version
	return nil
}

// Staff is desk.Tx's.
func (x *tx) Staff(id desk.ID) (desk.Staff, error) {
	row, err := staff.one(x, "WHERE id = $1", id)
	return row.Staff, err
}

// StaffByName is desk.Tx's.
func (x *tx) StaffByName(name string) (desk.Staff, error) {
	row, err := staff.one(x, "WHERE folded = $1", foldName(name))
	return row.Staff, err
}

// AllStaff is desk.Tx's, by name.
func (x *tx) AllStaff() ([]desk.Staff, error) {
	rows, err := staff.list(x, "")
	var all []desk.Staff
	for _, r := range rows {
		all = append(all, r.Staff)
	}
	return byName(all, func(s desk.Staff) (string, desk.ID) { return s.Name, s.ID }), err
}

// AddLogIn is desk.Tx's.
func (x *tx) AddLogIn(l desk.LogIn) error {
	_, err := logIns.add(x, &logInRow{LogIn: l, id: desk.NewID(), folded: foldName(l.Name)})
	return err
}

// DropLogIns is desk.Tx's.
func (x *tx) DropLogIns(before time.Time) error {
	_, err := x.exec("DELETE FROM logins WHERE at < $1", micros(before))
	return err
}

// LogIns is desk.Tx's.
func (x *tx) LogIns(since time.Time, name, from string, most int) ([]desk.LogIn, error) {
	w := &where{}
	if !since.IsZero() {
		w.add("at >= ?", micros(since))
	}
	if name != "" {
		w.add("folded = ?", foldName(name))
	}
	if from != "" {
		w.add("from_addr = ?", from)
	}
	rows, err := logIns.list(x, w.String()+" ORDER BY at DESC, id DESC"+limit(most), w.args...)
	var all []desk.LogIn
	for _, r := range rows {
		all = append(all, r.LogIn)
	}
	return all, err
}
