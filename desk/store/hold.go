package store

import (
	"context"
	"time"

	"platebook/desk"
)

// held says whether a backup asked for files to stay.
func (x *tx) held(now time.Time) (bool, error) {
	var n int
	err := x.row("SELECT count(*) FROM holds WHERE until > $1", []any{micros(now)}, &n)
	return n > 0, err
}

// hold keeps files from being taken away until a time; the zero time ends it.
func (s *Store) hold(ctx context.Context, name string, until time.Time) error {
	return s.Write(ctx, func(t desk.Tx) error {
		x := t.(*tx)
		if until.IsZero() {
			_, err := x.exec("DELETE FROM holds WHERE name = $1", name)
			return err
		}
		_, err := x.exec(`INSERT INTO holds (name, until) VALUES ($1, $2)
			ON CONFLICT (name) DO UPDATE SET until = excluded.until`, name, micros(until))
		return err
	})
}
