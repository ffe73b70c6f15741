package store

import (
	"context"
	"database/sql"
	"embed"
	"io/fs"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"

	"platebook/desk"
)

// Migrations are written once for both databases. River's own tables are not
// among them: background work brings its own.
//
//go:embed migrations/*.sql
var migrations embed.FS

const migrationTable = "platebook_migrations"

// dialect is what differs between databases.
type dialect interface {
	name() string
	goose() goose.Dialect
	isolation(write bool) sql.IsolationLevel
}

// migrateTo brings the tables up to date. Tables of a newer program are left
// alone and refused: this one does not know what stands in them.
func migrateTo(ctx context.Context, d dialect, db *sql.DB) error {
	p, err := migrator(d, db)
	if err != nil {
		return err
	}
	current, target, err := p.GetVersions(ctx)
	if err != nil {
		return err
	}
	if current > target {
		return newer()
	}
	_, err = p.Up(ctx)
	return err
}

func newer() error {
	return desk.Faultf(desk.Wrong, "The desk's data was written by a newer version of this program. Install that version, or a later one, and start again.")
}

func migrator(d dialect, db *sql.DB) (*goose.Provider, error) {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return nil, err
	}
	opts := []goose.ProviderOption{goose.WithTableName(migrationTable)}
	if d.name() == "postgres" {
		// Two desks may start at once on one server; on SQLite the folder is locked.
		l, err := lock.NewPostgresSessionLocker(lock.WithLockID(migrationLock))
		if err != nil {
			return nil, err
		}
		opts = append(opts, goose.WithSessionLocker(l))
	}
	return goose.NewProvider(d.goose(), db, files, opts...)
}

// newestSchema is the version of the tables this program makes.
func newestSchema() (int64, error) {
	files, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		return 0, err
	}
	return goose.NumericComponent(files[len(files)-1])
}

// schemaOf is the version of the tables as they are; 0 if there are none.
func schemaOf(ctx context.Context, db *sql.DB) (v int64, err error) {
	err = db.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM "+migrationTable).Scan(&v)
	return v, err
}

// checkSchema says whether the tables are those this program knows.
func (s *Store) checkSchema(ctx context.Context) error {
	want, err := newestSchema()
	if err != nil {
		return err
	}
	have, err := schemaOf(ctx, s.read)
	switch {
	case err != nil && sayFor(err) != "":
		return fault(err)
	case err != nil:
		return &desk.Fault{Kind: desk.NotFound, Err: err,
			Say: "There is no desk in that database yet. Name the one a desk is served from."}
	case have > want:
		return newer()
	case have < want:
		return desk.Faultf(desk.NotNow, "The desk was last opened by an older version of this program. Start the desk once with this version, then try again.")
	}
	return nil
}
