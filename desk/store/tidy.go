package store

import (
	"context"
	"database/sql/driver"
	"errors"
	"fmt"
)

// Tidy is desk.Tidier's. On SQLite what is deleted is overwritten in the
// database (secure_delete), but the old pages stand in the write-ahead log until
// it is carried over and cut off, which is done here unless a reader (a backup,
// say) still needs it: then a later round does it. PostgreSQL sees to its own
// pages by its autovacuum.
func (s *Store) Tidy(ctx context.Context) (err error) {
	if s.dialect.name() != "sqlite" {
		return nil
	}
	c, err := s.write.Conn(ctx)
	if err != nil {
		return fault(err)
	}
	defer c.Close()
	// Nobody can write meanwhile, so the wait for readers is short.
	if _, err := c.ExecContext(ctx, "PRAGMA busy_timeout = 200"); err != nil {
		return fault(err)
	}
	defer func() {
		if _, e := c.ExecContext(context.WithoutCancel(ctx), fmt.Sprintf("PRAGMA busy_timeout = %d", s.opts.wait())); e != nil {
			// A connection that does not wait as it should is not used again.
			err = errors.Join(err, e, c.Raw(func(any) error { return driver.ErrBadConn }))
		}
	}()
	var busy, pages, done int
	if err := c.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &pages, &done); err != nil {
		return fault(fmt.Errorf("cut off the write-ahead log: %w", err))
	}
	return nil
}
