package store

import (
	"database/sql"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/pressly/goose/v3"
)

// sqliteDialect is what differs on SQLite.
type sqliteDialect struct{}

func (sqliteDialect) name() string         { return "sqlite" }
func (sqliteDialect) goose() goose.Dialect { return goose.DialectSQLite3 }

// isolation: one writer at a time, who begins with the lock in hand, is as
// serial as it gets; a reader sees the snapshot it began with.
func (sqliteDialect) isolation(bool) sql.IsolationLevel { return sql.LevelDefault }

// openSQLite opens the database twice. All settings go in the connection
// string: a PRAGMA run later would reach one connection of the pool only.
func openSQLite(path string, wait int64) (write, read *sql.DB, err error) {
	// SQLite would let others read the file; its log takes after it.
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, nil, fault(err)
	}
	if err := f.Close(); err != nil {
		return nil, nil, fault(err)
	}
	busy := fmt.Sprintf("_busy_timeout=%d", wait)
	if write, err = sql.Open("sqlite", sqliteURL(path,
		// Readers go on while one writes.
		"_journal_mode=WAL",
		// What is acknowledged survives a power cut, not just a crash.
		"_synchronous=FULL",
		"_foreign_keys=1",
		// Another process (a backup, a person with a shell) may hold the lock.
		busy,
		// A transaction that begins by reading could not become a writer if
		// another wrote meanwhile. So it is a writer from the start.
		"_txlock=immediate",
		"_pragma=journal_size_limit(67108864)",
		// What is forgotten is overwritten, not just let go of.
		"_pragma=secure_delete(1)",
	)); err != nil {
		return nil, nil, err
	}
	write.SetMaxOpenConns(1)
	write.SetConnMaxLifetime(0)
	if read, err = sql.Open("sqlite", sqliteURL(path, busy, "_query_only=1", "_pragma=cache_size(-8000)")); err != nil {
		return nil, nil, err
	}
	read.SetMaxOpenConns(max(4, runtime.NumCPU()))
	read.SetMaxIdleConns(max(4, runtime.NumCPU()))
	return write, read, nil
}

func sqliteURL(path string, settings ...string) string {
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	path = filepath.ToSlash(path)
	if !strings.HasPrefix(path, "/") {
		path = "/" + path // C:/…
	}
	return (&url.URL{Scheme: "file", Path: path, RawQuery: strings.Join(settings, "&")}).String()
}
