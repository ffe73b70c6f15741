package store

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"platebook/desk"
)

// table is a table whose rows are values of T, with the SQL made of its
// columns. The first column is its key.
type table[T any] struct {
	name, noun             string
	columns                func(*T) []column
	selects, insert, upset string
}

func newTable[T any](name, noun string, columns func(*T) []column) table[T] {
	t := table[T]{name: name, noun: noun, columns: columns}
	var names, marks, sets []string
	for i, c := range columns(new(T)) {
		names = append(names, c.name)
		marks = append(marks, fmt.Sprintf("$%d", i+1))
		sets = append(sets, fmt.Sprintf("%s = $%d", c.name, i+1))
	}
	t.selects = "SELECT " + strings.Join(names, ", ") + " FROM " + name + " "
	t.insert = "INSERT INTO " + name + " (" + strings.Join(names, ", ") + ") VALUES (" + strings.Join(marks, ", ") + ")"
	t.upset = "UPDATE " + name + " SET " + strings.Join(sets[1:], ", ") + " WHERE " + sets[0]
	return t
}

// without is the table with a JSON column left unread: its field stays empty.
func (t table[T]) without(col string) table[T] {
	t.selects = strings.Replace(t.selects, " "+col, " 'null'", 1)
	return t
}

func (t table[T]) args(v *T) []any {
	cols := t.columns(v)
	a := make([]any, len(cols))
	for i, c := range cols {
		a[i] = c.field
	}
	return a
}

// one returns the row that where finds, or a NotFound Fault.
func (t table[T]) one(x *tx, where string, args ...any) (T, error) {
	var v T
	err := x.row(t.selects+where, args, t.args(&v)...)
	if errors.Is(err, sql.ErrNoRows) {
		var none T
		return none, desk.Faultf(desk.NotFound, "There is no such %s. It may have been removed or forgotten meanwhile.", t.noun)
	}
	if err != nil {
		return v, fmt.Errorf("read %s: %w", t.noun, err)
	}
	return v, nil
}

// list returns the rows that where finds.
func (t table[T]) list(x *tx, where string, args ...any) ([]T, error) {
	var all []T
	err := x.rows(t.selects+where, args, func(scan func(...any) error) error {
		var v T
		if err := scan(t.args(&v)...); err != nil {
			return err
		}
		all = append(all, v)
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("list %s: %w", t.name, err)
	}
	return all, nil
}

// add inserts v unless it meets a key or a unique column; says whether it did.
// A clash is not left to the database to report: on PostgreSQL that would end
// the transaction.
func (t table[T]) add(x *tx, v *T) (bool, error) {
	n, err := x.exec(t.insert+" ON CONFLICT DO NOTHING", t.args(v)...)
	if err != nil {
		return false, fmt.Errorf("add %s: %w", t.noun, err)
	}
	return n == 1, nil
}

// replace writes v over the row with its key; says whether there was one.
func (t table[T]) replace(x *tx, v *T) (bool, error) {
	n, err := x.exec(t.upset, t.args(v)...)
	if err != nil {
		return false, fmt.Errorf("write %s: %w", t.noun, err)
	}
	return n == 1, nil
}

// save keeps a value that has a version: see desk.Tx. A new one that clashes
// is what clash says.
func (t table[T]) save(x *tx, v *T, id *desk.ID, version *int64, clash func() error) error {
	was, wasID := *version, *id
	x.undo = append(x.undo, func() { *version, *id = was, wasID })
	if *id == "" {
		*id = desk.NewID()
	}
	*version = was + 1
	if was == 0 {
		ok, err := t.add(x, v)
		if err == nil && !ok {
			if err = clash(); err == nil {
				err = t.stale()
			}
		}
		return err
	}
	args := append(t.args(v), was)
	n, err := x.exec(fmt.Sprintf("%s AND version = $%d", t.upset, len(args)), args...)
	if err != nil {
		return fmt.Errorf("write %s: %w", t.noun, err)
	}
	if n == 1 {
		return nil
	}
	if _, err := t.one(x, "WHERE id = $1", *id); err != nil {
		return err
	}
	return t.stale()
}

func (t table[T]) stale() error {
	return desk.Faultf(desk.Stale, "Someone changed this %s while you had it open. Reload the page, look at what they did, then make your change again.", t.noun)
}

// noClash is for tables with nothing unique but their key.
func noClash() error { return nil }
