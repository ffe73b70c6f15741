package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"sync"
	"time"

	"platebook/desk"
)

// One desk at a time works on a database: background work takes up what a dead
// process left, and cannot tell that from what a living one is at. In a folder a
// locked file sees to it. On a PostgreSQL server, which desks with folders of
// their own can share, it is an advisory lock of a session (PostgreSQL's manual,
// 13.3.5): it is there as long as its connection is and goes with it, however the
// desk ends. Backups do not ask for it.

// deskLock names the lock, within one database.
const deskLock = 7_031_204_912

// alone holds the lock and takes it again when its connection was lost.
type alone struct {
	db   *sql.DB // of its own, that keeps no connection once it is let go
	conn *sql.Conn
	pid  int // of the server's process behind conn
	lost chan struct{}
	stop context.CancelFunc
	done sync.WaitGroup
}

const (
	// alonePace is how often the connection of the lock is looked after.
	alonePace = 2 * time.Second
	// aloneAnswer is how long the server may take to answer. A network that
	// drops what is sent says nothing for a quarter of an hour, and meanwhile
	// another desk may have the lock.
	aloneAnswer = 10 * time.Second
)

// standAlone takes the lock of a database, waiting a little for a desk that is
// just ending.
func standAlone(ctx context.Context, o Options) (_ *alone, err error) {
	c, err := postgresConfig(o.Database, o.wait())
	if err != nil {
		return nil, err
	}
	a := &alone{db: pool(c, 2), lost: make(chan struct{})}
	// What lay idle while the server was away would be as dead as the lock's own.
	a.db.SetMaxIdleConns(0)
	defer func() {
		if err != nil {
			err = errors.Join(err, a.db.Close())
		}
	}()
	began := time.Now()
	for {
		switch got, err := a.take(ctx); {
		case err != nil:
			return nil, fault(err)
		case got:
			watch, stop := context.WithCancel(context.WithoutCancel(ctx))
			a.stop = stop
			a.done.Go(func() { a.watch(watch) })
			return a, nil
		case time.Since(began) > o.patience():
			return nil, desk.Faultf(desk.NotNow, "Another desk works on this database already. Stop it first, or give this one a database of its own. If the machine of the other one died, its lock goes within two minutes: try again then.")
		}
		select {
		case <-ctx.Done():
			return nil, fault(ctx.Err())
		case <-time.After(100 * time.Millisecond):
		}
	}
}

// take asks for the lock on a connection of its own, and keeps that if it got it.
func (a *alone) take(ctx context.Context) (got bool, err error) {
	ctx, cancel := context.WithTimeout(ctx, aloneAnswer)
	defer cancel()
	conn, err := a.db.Conn(ctx)
	if err != nil {
		return false, err
	}
	defer func() {
		if !got {
			err = errors.Join(err, conn.Close())
		}
	}()
	// A machine that is gone says no goodbye: the server is to notice, in 30 s
	// and four times 15 s, not in the hours that systems wait unless told.
	for _, set := range []string{"tcp_keepalives_idle = 30", "tcp_keepalives_interval = 15", "tcp_keepalives_count = 4"} {
		if _, err := conn.ExecContext(ctx, "SET "+set); err != nil {
			return false, err
		}
	}
	var pid int
	if err := conn.QueryRowContext(ctx, "SELECT pg_try_advisory_lock($1), pg_backend_pid()", deskLock).Scan(&got, &pid); err != nil || !got {
		return false, err
	}
	a.conn, a.pid = conn, pid
	return true, nil
}

// watch sees that the lock is still there.
func (a *alone) watch(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-time.After(alonePace):
		}
		if a.conn != nil {
			// Not ended by ctx: that would break the connection, and the lock
			// would be let go only when the server notices.
			if err := a.ask(context.WithoutCancel(ctx), "SELECT 1"); err == nil || ctx.Err() != nil {
				continue
			}
			a.drop()
		}
		// While the server is away there is nobody to lose it to.
		got, err := a.take(ctx)
		if err != nil || got {
			continue
		}
		other, err := a.other(ctx)
		if err == nil && other {
			close(a.lost)
			return
		}
	}
}

// ask has the lock's connection do something, if it still answers.
func (a *alone) ask(ctx context.Context, query string, args ...any) error {
	ctx, cancel := context.WithTimeout(ctx, aloneAnswer)
	defer cancel()
	_, err := a.conn.ExecContext(ctx, query, args...)
	return err
}

// drop closes the connection for good: back in the pool it might still have
// the lock.
func (a *alone) drop() {
	_ = a.conn.Raw(func(any) error { return driver.ErrBadConn })
	_ = a.conn.Close()
	a.conn = nil
}

// other says whether it is another desk that has the lock. A connection of our
// own that only the server still takes for alive is ended there.
func (a *alone) other(ctx context.Context) (bool, error) {
	ctx, cancel := context.WithTimeout(ctx, aloneAnswer)
	defer cancel()
	var pid int
	// The halves of the lock's number, as that view has them.
	err := a.db.QueryRowContext(ctx, fmt.Sprintf(`SELECT pid FROM pg_locks WHERE locktype = 'advisory' AND granted
		AND database = (SELECT oid FROM pg_database WHERE datname = current_database())
		AND classid = %d AND objid = %d AND objsubid = 1`, int64(deskLock)>>32, int64(deskLock)&0xffffffff)).Scan(&pid)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	if err != nil || pid != a.pid {
		return err == nil, err
	}
	_, err = a.db.ExecContext(ctx, "SELECT pg_terminate_backend($1)", pid)
	return false, err
}

// end lets go of the lock.
func (a *alone) end() error {
	a.stop()
	a.done.Wait()
	var err error
	if a.conn != nil {
		if a.ask(context.Background(), "SELECT pg_advisory_unlock($1)", deskLock) != nil {
			a.drop() // and the lock with it
		} else {
			err = a.conn.Close()
		}
	}
	if err = errors.Join(err, a.db.Close()); err != nil {
		return fmt.Errorf("let go of the database: %w", err)
	}
	return nil
}
