package work

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
	"github.com/riverqueue/river/rivertype"

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
	// Folder is where copies of files lie while they are looked at; it is made,
	// and what is in it goes. Empty is the system's own place for such.
	Folder string
	// Every is how often the desk looks round; 0 means a quarter of an hour.
	Every time.Duration
	// CheckTime and WaysTime are the most one check, or the finding of ways for
	// one request, may take; 0 means five minutes and half an hour.
	CheckTime, WaysTime time.Duration
	// Memory is the most a process computing a task may have, bytes; 0 means
	// three gigabytes.
	Memory int64
}

// filled puts in what was left out.
func (o Options) filled() Options {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Every <= 0 {
		o.Every = 15 * time.Minute
	}
	if o.CheckTime <= 0 {
		o.CheckTime = 5 * time.Minute
	}
	if o.WaysTime <= 0 {
		o.WaysTime = 30 * time.Minute
	}
	if o.Memory <= 0 {
		o.Memory = 3 << 30
	}
	return o
}

// Work is the background work of one desk.
type Work struct {
	client *river.Client[*sql.Tx]
}

// Queues: a file is checked while ways are sought, and neither keeps the clock
// waiting. Each does one thing at a time, so work takes two cores at most.
const (
	checks = "checks"
	ways   = "ways"
	rounds = "rounds"
)

// mostTries is how often a job is taken up before it is given up. A try that
// ended with the desk's own process counts: a job that brings the process down
// must not do so at every start.
const mostTries = 8

// New makes the tables River needs if they are not there, and puts back what a
// dead process was at. Nothing is done before Start. Only one desk may work on
// a database.
func New(ctx context.Context, d *desk.Desk, db *sql.DB, o Options) (*Work, error) {
	o = o.filled()
	if err := o.emptied(); err != nil {
		return nil, err
	}
	driver, err := driverFor(o.Dialect, db)
	if err != nil {
		return nil, err
	}
	if err := migrate(ctx, driver, o.Log); err != nil {
		return nil, err
	}
	if err := putBack(ctx, db, len(o.Program) > 0); err != nil {
		return nil, err
	}
	do := &doer{desk: d, o: o}
	workers := river.NewWorkers()
	for _, add := range []error{
		river.AddWorkerSafely(workers, &worker[checkArgs]{doer: do}),
		river.AddWorkerSafely(workers, &worker[waysArgs]{doer: do}),
		river.AddWorkerSafely(workers, &worker[roundArgs]{doer: do}),
	} {
		if add != nil {
			return nil, add
		}
	}
	one := func(poll time.Duration) river.QueueConfig {
		return river.QueueConfig{MaxWorkers: 1, FetchPollInterval: poll}
	}
	c := &river.Config{
		Logger:  o.Log,
		Workers: workers,
		Queues:  map[string]river.QueueConfig{checks: one(300 * time.Millisecond), ways: one(500 * time.Millisecond), rounds: one(2 * time.Second)},
		// A listener on SQLite asks twenty times a second, on the connection
		// that everybody writes by.
		PollOnly:             true,
		MaxAttempts:          mostTries,
		RetryPolicy:          backOff{},
		JobTimeout:           -1, // each task has its own, shorter than this:
		RescueStuckJobsAfter: 2*o.WaysTime + time.Hour,
		PeriodicJobs: []*river.PeriodicJob{river.NewPeriodicJob(river.PeriodicInterval(o.Every), func() (river.JobArgs, *river.InsertOpts) {
			return roundArgs{}, insertOpts(desk.Job{Kind: desk.LookRound, Round: 1})
		}, &river.PeriodicJobOpts{ID: string(desk.LookRound), RunOnStart: true})},
	}
	w := &Work{}
	w.client, err = river.NewClient(driver, c)
	return w, err
}

// emptied empties the folder for copies: patrons' files lie there still if the
// desk before was killed.
func (o Options) emptied() error {
	if o.Folder == "" {
		return nil
	}
	if err := os.RemoveAll(o.Folder); err != nil {
		// On Windows what that desk had begun may read one for a moment more.
		o.Log.Warn("copies of files stay until the next start", "err", err)
	}
	return os.MkdirAll(o.Folder, 0o700)
}

func driverFor(dialect string, db *sql.DB) (riverdriver.Driver[*sql.Tx], error) {
	switch dialect {
	case "sqlite":
		return riversqlite.New(db), nil
	case "postgres":
		return riverdatabasesql.New(db), nil
	}
	return nil, fmt.Errorf("no background work on a database called %q", dialect)
}

func migrate(ctx context.Context, driver riverdriver.Driver[*sql.Tx], log *slog.Logger) error {
	m, err := rivermigrate.New(driver, &rivermigrate.Config{Logger: log})
	if err != nil {
		return err
	}
	_, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil)
	return err
}

// putBack makes what a dead process was at available again, and takes its place
// as the one that keeps the clock: River would wait for both until it is sure
// that the process is dead, and here nobody else can be.
//
// What is computed apart cannot have brought the process down, so that try does
// not count; in this process it may have.
func putBack(ctx context.Context, db *sql.DB, apart bool) error {
	try := "attempt"
	if apart {
		try = "CASE WHEN attempt > 0 THEN attempt - 1 ELSE 0 END"
	}
	for _, q := range []string{
		"UPDATE river_job SET state = 'available', attempt = " + try + " WHERE state = 'running'",
		"DELETE FROM river_leader",
	} {
		if _, err := db.ExecContext(ctx, q); err != nil {
			return fmt.Errorf("put back what was being done: %w", err)
		}
	}
	return nil
}

// Enqueue puts a job beside what causes it, in its transaction.
func (w *Work) Enqueue(ctx context.Context, tx *sql.Tx, j desk.Job) error {
	var args river.JobArgs
	switch j.Kind {
	case desk.CheckFile:
		args = checkArgs{j.ID, j.Round}
	case desk.FindWays:
		args = waysArgs{j.ID, j.Round}
	case desk.LookRound:
		args = roundArgs{}
	default:
		return fmt.Errorf("there is no job called %q", j.Kind)
	}
	_, err := w.client.InsertTx(ctx, tx, args, insertOpts(j))
	return err
}

// insertOpts says where a job waits. What waits or is being done already for
// the same round is not put in again.
func insertOpts(j desk.Job) *river.InsertOpts {
	o := &river.InsertOpts{
		Queue:       map[desk.JobKind]string{desk.CheckFile: checks, desk.FindWays: ways, desk.LookRound: rounds}[j.Kind],
		ScheduledAt: j.At,
		UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: []rivertype.JobState{
			rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRetryable, rivertype.JobStateRunning, rivertype.JobStateScheduled,
		}},
	}
	if j.Kind == desk.FindWays && j.Round == 0 {
		// Asked for without saying which plan: the one being done may be for another.
		o.UniqueOpts = river.UniqueOpts{}
	}
	return o
}

// Start begins to work until Stop.
func (w *Work) Start(ctx context.Context) error { return w.client.Start(ctx) }

// Stop lets go of what is being done; the next start takes it up again.
func (w *Work) Stop(ctx context.Context) error {
	err := w.client.StopAndCancel(ctx)
	if errors.Is(err, context.Canceled) {
		return nil
	}
	return err
}
