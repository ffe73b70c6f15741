package work

import (
	"context"
	"database/sql"
	"errors"
	"log/slog"
	"time"

	"platebook/desk"
)

// Options say how background work is done.
type Options struct {
	Dialect string // "sqlite" or "postgres"
	Log     *slog.Logger
	// Program, if given, is the command that computes one task in a process of
	// its own: it must end in Compute. Without it, tasks are computed in this
	// process.
	Program []string
	// Every is how often the desk looks round; 0 means a quarter of an hour.
	Every time.Duration
}

// Work is the background work of one desk.
type Work struct{}

// New makes the tables River needs if they are not there, and puts back what a
// dead process was at. Nothing is done before Start.
func New(ctx context.Context, d *desk.Desk, db *sql.DB, o Options) (*Work, error) {
	return nil, errors.New("not built yet")
}

// Enqueue puts a job beside what causes it, in its transaction.
func (w *Work) Enqueue(ctx context.Context, tx *sql.Tx, j desk.Job) error {
	return errors.New("not built yet")
}

// Start begins to work until Stop.
func (w *Work) Start(ctx context.Context) error { return errors.New("not built yet") }

// Stop lets go of what is being done; the next start takes it up again.
func (w *Work) Stop(ctx context.Context) error { return errors.New("not built yet") }
