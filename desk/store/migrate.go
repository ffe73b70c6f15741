package store

import (
	"context"
	"database/sql"
	"embed"
	"io/fs"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
)

// Migrations are written once for both databases. River's own tables are not
// among them: background work brings its own.
//
//go:embed migrations/*.sql
var migrations embed.FS

// dialect is what differs between databases.
type dialect interface {
	name() string
	goose() goose.Dialect
	isolation(write bool) sql.IsolationLevel
}

func (s *Store) migrate(ctx context.Context) error {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	opts := []goose.ProviderOption{goose.WithTableName("platebook_migrations")}
	if s.dialect.name() == "postgres" {
		// Two desks may start at once on one server; on SQLite the folder is locked.
		l, err := lock.NewPostgresSessionLocker(lock.WithLockID(migrationLock))
		if err != nil {
			return err
		}
		opts = append(opts, goose.WithSessionLocker(l))
	}
	p, err := goose.NewProvider(s.dialect.goose(), s.write, files, opts...)
	if err != nil {
		return err
	}
	_, err = p.Up(ctx)
	return err
}
