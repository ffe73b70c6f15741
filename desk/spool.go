package desk

import "context"

// SpoolNow is a spool with what waits for it.
type SpoolNow struct {
	Spool
	MaterialName string
	In           string  // name of the printer it is in
	Promised     float64 // grams the runs going on will still take
	Low          bool    // what is left, less what is promised, is under the reserve
}

// SpoolForm is a spool as staff type it. An empty ID makes a new one.
type SpoolForm struct {
	Form     string
	ID       ID
	Version  int64
	Name     string
	Branch   ID
	Material string
	Colour   string
	Hex      string
	Full     float64 // grams; a new spool has as many left
	Retired  bool
}

// SaveSpool makes or changes a spool; what is left on it only counting changes.
func (d *Desk) SaveSpool(ctx context.Context, by Actor, f SpoolForm) (Spool, error) {
	return Spool{}, Faultf(Broken, "This is not made yet.")
}

// LoadSpool puts a spool into a printer, or with no printer back on the rack.
func (d *Desk) LoadSpool(ctx context.Context, by Actor, spool ID, version int64, printer ID, form string) (Spool, error) {
	return Spool{}, Faultf(Broken, "This is not made yet.")
}

// CountSpool sets what is left on a spool to what was counted or weighed.
func (d *Desk) CountSpool(ctx context.Context, by Actor, spool ID, version int64, grams float64, why, form string) (Spool, error) {
	return Spool{}, Faultf(Broken, "This is not made yet.")
}
