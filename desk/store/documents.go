package store

import (
	"platebook/desk"
)

// SaveSetting is desk.Tx's.
func (x *tx) SaveSetting(s *desk.Setting) error {
	var newest int
	if err := x.row("SELECT coalesce(max(version), 0) FROM settings WHERE kind = $1", []any{s.Kind}, &newest); err != nil {
		return err
	}
	ok := s.Version == newest+1
	if ok {
		var err error
		if ok, err = settings.add(x, &settingRow{Setting: *s, body: string(s.Body)}); err != nil {
			return err
		}
	}
	if !ok {
		return desk.Faultf(desk.Stale, "Someone changed these settings while you had them open. Reload the page, look at what they did, then make your change again.")
	}
	return nil
}

// Setting is desk.Tx's.
func (x *tx) Setting(k desk.SettingKind, version int) (desk.Setting, error) {
	w := &where{}
	w.add("kind = ?", k)
	if version != 0 {
		w.add("version = ?", version)
	}
	row, err := settings.one(x, w.String()+" ORDER BY version DESC LIMIT 1", w.args...)
	return row.setting(), err
}

// SettingVersions is desk.Tx's.
func (x *tx) SettingVersions(k desk.SettingKind) ([]desk.Setting, error) {
	rows, err := settings.list(x, "WHERE kind = $1 ORDER BY version DESC", k)
	var all []desk.Setting
	for _, r := range rows {
		all = append(all, r.setting())
	}
	return all, err
}

func (r settingRow) setting() desk.Setting {
	r.Setting.Body = []byte(r.body)
	return r.Setting
}

// AddTally is desk.Tx's: a second one of an ID changes nothing.
func (x *tx) AddTally(t *desk.Tally) error {
	_, err := tallies.add(x, t)
	return err
}

// Tallies is desk.Tx's: both months are among them, an empty one sets no bound.
func (x *tx) Tallies(fromMonth, toMonth string) ([]desk.Tally, error) {
	w := &where{}
	if fromMonth != "" {
		w.add("month >= ?", fromMonth)
	}
	if toMonth != "" {
		w.add("month <= ?", toMonth)
	}
	return tallies.list(x, w.String()+" ORDER BY month, id", w.args...)
}

// AddShape is desk.Tx's: a second one of an ID changes nothing.
func (x *tx) AddShape(s *desk.Shape) error {
	if s.ID == "" {
		s.ID = desk.NewID()
	}
	_, err := shapes.add(x, s)
	return err
}

// Shapes is desk.Tx's, oldest first.
func (x *tx) Shapes() ([]desk.Shape, error) { return shapes.list(x, "ORDER BY at, id") }
