package store

import (
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"time"

	"platebook/desk"
)

var (
	_ desk.Store = (*Store)(nil)
	_ desk.Tx    = (*tx)(nil)
)

// tx is a transaction.
type tx struct {
	s   *Store
	ctx context.Context
	sql *sql.Tx
	// undo puts back versions counted up in callers' values, for a
	// transaction that comes to nothing.
	undo []func()
}

// Read is desk.Store's.
func (s *Store) Read(ctx context.Context, do func(desk.Tx) error) error {
	return s.try(ctx, s.read, &sql.TxOptions{ReadOnly: true, Isolation: s.dialect.isolation(false)}, do)
}

const (
	// A writer who lost this often asks to be alone, and gives up after most.
	lossesAlone = 2
	mostLosses  = 12
)

// Write is desk.Store's.
func (s *Store) Write(ctx context.Context, do func(desk.Tx) error) error {
	opts := &sql.TxOptions{Isolation: s.dialect.isolation(true)}
	for lost := 0; ; lost++ {
		err := s.tryBeside(ctx, lost > lossesAlone, opts, do)
		if err == nil || !lostRace(err) || lost == mostLosses {
			return err
		}
		// Apart by chance, so that the same ones do not meet again.
		pause := time.Duration(rand.Int64N(int64(2*time.Millisecond) << min(lost, 5)))
		select {
		case <-time.After(pause):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// tryBeside runs a writer beside others of this process, or alone.
func (s *Store) tryBeside(ctx context.Context, alone bool, opts *sql.TxOptions, do func(desk.Tx) error) error {
	if alone {
		s.gate.Lock()
		defer s.gate.Unlock()
	} else {
		s.gate.RLock()
		defer s.gate.RUnlock()
	}
	return s.try(ctx, s.write, opts, do)
}

func (s *Store) try(ctx context.Context, db *sql.DB, opts *sql.TxOptions, do func(desk.Tx) error) (err error) {
	t, err := db.BeginTx(ctx, opts)
	if err != nil {
		return fault(fmt.Errorf("begin: %w", err))
	}
	x := &tx{s: s, ctx: ctx, sql: t}
	kept := false
	defer func() { // also when do panics
		if !kept {
			t.Rollback()
			for i := len(x.undo) - 1; i >= 0; i-- {
				x.undo[i]()
			}
		}
	}()
	if err := do(x); err != nil {
		return err
	}
	if err := t.Commit(); err != nil {
		if ctx.Err() != nil { // then it was rolled back, however the driver says it
			err = ctx.Err()
		}
		return fault(fmt.Errorf("commit: %w", err))
	}
	kept = true
	return nil
}

// exec runs a statement and returns how many rows it changed.
func (x *tx) exec(query string, args ...any) (int64, error) {
	r, err := x.sql.ExecContext(x.ctx, query, bind(args)...)
	if err != nil {
		return 0, fault(err)
	}
	return r.RowsAffected()
}

func (x *tx) row(query string, args []any, into ...any) error {
	return fault(x.sql.QueryRowContext(x.ctx, query, bind(args)...).Scan(into...))
}

func (x *tx) rows(query string, args []any, each func(scan func(...any) error) error) (err error) {
	rows, err := x.sql.QueryContext(x.ctx, query, bind(args)...)
	if err != nil {
		return fault(err)
	}
	defer func() {
		if e := rows.Close(); err == nil {
			err = fault(e)
		}
	}()
	for rows.Next() {
		if err := each(rows.Scan); err != nil {
			return err
		}
	}
	return fault(rows.Err())
}

// Enqueue is desk.Tx's.
func (x *tx) Enqueue(job desk.Job) error {
	f := x.s.enqueue.Load()
	if f == nil {
		return fmt.Errorf("enqueue %s: background work was not set up", job.Kind)
	}
	if err := (*f)(x.ctx, x.sql, job); err != nil {
		return fault(fmt.Errorf("enqueue %s: %w", job.Kind, err))
	}
	return nil
}
