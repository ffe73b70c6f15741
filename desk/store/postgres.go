package store

import (
	"database/sql"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"

	"platebook/desk"
)

// postgresDialect is what differs on PostgreSQL.
type postgresDialect struct{}

func (postgresDialect) name() string         { return "postgres" }
func (postgresDialect) goose() goose.Dialect { return goose.DialectPostgres }

// isolation: writers may run side by side, so the database is asked to notice
// when they could not have run one after the other; the loser runs again. A
// reader sees the snapshot it began with.
func (postgresDialect) isolation(write bool) sql.IsolationLevel {
	if write {
		return sql.LevelSerializable
	}
	return sql.LevelRepeatableRead
}

// openPostgres opens two pools, so that a crowd of readers cannot keep writers
// out.
func openPostgres(url string, wait int64) (write, read *sql.DB, err error) {
	c, err := postgresConfig(url, wait)
	if err != nil {
		return nil, nil, err
	}
	return pool(c, 16), pool(c, 8), nil
}

func postgresConfig(url string, wait int64) (*pgx.ConnConfig, error) {
	c, err := pgx.ParseConfig(url)
	if err != nil {
		// The error of the driver leaves passwords out.
		return nil, &desk.Fault{Kind: desk.Wrong, Err: err,
			Say: "The address of the PostgreSQL database cannot be read. It should look like postgres://user@host/database."}
	}
	set := func(name, value string) {
		if _, ok := c.RuntimeParams[name]; !ok {
			c.RuntimeParams[name] = value
		}
	}
	set("application_name", "platebook")
	// No statement of the desk takes long, so one that does must not hold the
	// rest up.
	set("lock_timeout", fmt.Sprint(wait))
	set("statement_timeout", "60000")
	set("idle_in_transaction_session_timeout", "60000")
	// A scan of a whole table makes any other writer of it a rival.
	set("random_page_cost", "1.1")
	if c.ConnectTimeout == 0 {
		c.ConnectTimeout = 10 * time.Second
	}
	return c, nil
}

func pool(c *pgx.ConnConfig, most int) *sql.DB {
	db := stdlib.OpenDB(*c)
	db.SetMaxOpenConns(most)
	db.SetMaxIdleConns(most)
	db.SetConnMaxIdleTime(5 * time.Minute)
	return db
}

// migrationLock is the advisory lock that one of several desks starting at once
// on a database holds while it makes the tables.
const migrationLock = 7_031_204_911
