package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"platebook/desk"
)

// copyDatabase writes the rows as they stand at one moment into a new SQLite
// file, without what a copy has no use for: log-ins and holds.
func (s *Store) copyDatabase(ctx context.Context, path string) error {
	if s.dialect.name() == "sqlite" {
		// All of the file, background work's tables too. VACUUM INTO reads in
		// one transaction, writers go on.
		if _, err := s.write.ExecContext(ctx, "VACUUM INTO $1", path); err != nil {
			return err
		}
		return withSQLite(path, func(db *sql.DB) error { return emptyTables(ctx, db) })
	}
	return withSQLite(path, func(db *sql.DB) error {
		if err := migrateTo(ctx, sqliteDialect{}, db); err != nil {
			return err
		}
		tx, err := s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true, Isolation: sql.LevelRepeatableRead})
		if err != nil {
			return err
		}
		defer tx.Rollback()
		// The rows of a large table take as long as they take. Whoever waits
		// for the backup can break it off.
		for _, limit := range []string{"statement_timeout", "idle_in_transaction_session_timeout"} {
			if _, err := tx.ExecContext(ctx, "SET LOCAL "+limit+" = 0"); err != nil {
				return err
			}
		}
		if err := copyRows(ctx, db, tx, db); err != nil {
			return err
		}
		return emptyTables(ctx, db)
	})
}

// withSQLite opens a SQLite file that nobody else has and closes it, with no
// log left beside it.
func withSQLite(path string, do func(*sql.DB) error) error {
	db, err := sql.Open("sqlite", sqliteURL(path, "_journal_mode=DELETE", "_synchronous=FULL", "_foreign_keys=1", "_pragma=secure_delete(1)"))
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	return errors.Join(do(db), db.Close())
}

func emptyTables(ctx context.Context, db *sql.DB) error {
	for _, t := range []string{"sessions", "holds"} {
		if _, err := db.ExecContext(ctx, "DELETE FROM "+t); err != nil {
			return err
		}
	}
	return nil
}

// tablesOf lists the desk's own tables as they were made: those referred to
// come before those that refer.
func tablesOf(ctx context.Context, lite *sql.DB) ([]string, error) {
	return strings1(ctx, lite, `SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite\_%' ESCAPE '\'
		AND name NOT LIKE 'river\_%' ESCAPE '\' AND name <> '`+migrationTable+`' ORDER BY rowid`)
}

// strings1 returns the one column a query gives.
func strings1(ctx context.Context, db *sql.DB, query string, args ...any) (all []string, err error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, err
		}
		all = append(all, s)
	}
	return all, rows.Err()
}

type querier interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
}

// copyRows copies every row of the desk's tables between two databases of the
// same schema. lite, one of the two, says which tables and columns there are.
// It is one transaction of to.
func copyRows(ctx context.Context, lite *sql.DB, from querier, to *sql.DB) error {
	tables, err := tablesOf(ctx, lite)
	if err != nil {
		return err
	}
	columns := map[string][]string{}
	for _, t := range tables {
		if columns[t], err = strings1(ctx, lite, "SELECT name FROM pragma_table_info($1)", t); err != nil {
			return err
		}
	}
	tx, err := to.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	for _, t := range tables {
		if err := copyTable(ctx, t, columns[t], from, tx); err != nil {
			return fmt.Errorf("copy %s: %w", t, err)
		}
	}
	return tx.Commit()
}

func copyTable(ctx context.Context, table string, columns []string, from querier, to *sql.Tx) (err error) {
	var marks []string
	for i := range columns {
		marks = append(marks, fmt.Sprintf("$%d", i+1))
	}
	names := strings.Join(columns, ", ")
	insert, err := to.PrepareContext(ctx, "INSERT INTO "+table+" ("+names+") VALUES ("+strings.Join(marks, ", ")+")")
	if err != nil {
		return err
	}
	defer insert.Close()
	rows, err := from.QueryContext(ctx, "SELECT "+names+" FROM "+table)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	values, into := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		into[i] = &values[i]
	}
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		if _, err := insert.ExecContext(ctx, values...); err != nil {
			return err
		}
	}
	return rows.Err()
}

// countRows counts the rows of every table of the desk.
func countRows(ctx context.Context, lite *sql.DB) (map[string]int, error) {
	tables, err := tablesOf(ctx, lite)
	if err != nil {
		return nil, err
	}
	n := map[string]int{}
	for _, t := range tables {
		var c int
		if err := lite.QueryRowContext(ctx, "SELECT count(*) FROM "+t).Scan(&c); err != nil {
			return nil, err
		}
		n[t] = c
	}
	return n, nil
}

// usedHashes lists the bytes that rows refer to: what HashUsed says yes to.
func usedHashes(ctx context.Context, db *sql.DB) ([]desk.Hash, error) {
	all, err := strings1(ctx, db, "SELECT hash FROM files UNION SELECT hash FROM refs UNION SELECT hash FROM mail_refs ORDER BY 1")
	var hashes []desk.Hash
	for _, h := range all {
		if checkHash(desk.Hash(h)) == nil {
			hashes = append(hashes, desk.Hash(h))
		}
	}
	return hashes, err
}
