package work

import (
	"context"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"

	"platebook/desk"
)

// What a job is kept as. Ids only: nothing of a patron gets into the queue.
type (
	checkArgs struct {
		ID    desk.ID `json:"id"`
		Round int64   `json:"round,omitempty"`
	}
	waysArgs struct {
		ID    desk.ID `json:"id"`
		Round int64   `json:"round,omitempty"`
	}
	roundArgs struct{}
)

func (checkArgs) Kind() string { return string(desk.CheckFile) }
func (waysArgs) Kind() string  { return string(desk.FindWays) }
func (roundArgs) Kind() string { return string(desk.LookRound) }

func (a checkArgs) job() desk.Job { return desk.Job{Kind: desk.CheckFile, ID: a.ID, Round: a.Round} }
func (a waysArgs) job() desk.Job  { return desk.Job{Kind: desk.FindWays, ID: a.ID, Round: a.Round} }
func (roundArgs) job() desk.Job   { return desk.Job{Kind: desk.LookRound} }

type jobArgs interface {
	river.JobArgs
	job() desk.Job
}

// worker does jobs of one kind.
type worker[A jobArgs] struct {
	river.WorkerDefaults[A]
	doer *doer
}

func (w *worker[A]) Work(ctx context.Context, j *river.Job[A]) error {
	if j.Attempt > mostTries {
		// The last tries brought this process down.
		return w.doer.giveUp(ctx, j.Args.job())
	}
	err := w.doer.do(ctx, j.Args.job(), j.Attempt == mostTries)
	if err != nil && ctx.Err() != nil {
		return river.JobSnooze(0) // the desk closes: available again at once
	}
	return err
}

// backOff says when to try again: soon at first, for a lock or a full disk
// often pass, then more and more seldom. What goes by the clock is never long
// in coming: lapsing and forgetting are promised to patrons by the day, and
// while a round waits for its next try no other is put in.
type backOff struct{}

const (
	longestWait  = 2 * time.Hour
	longestRound = 2 * time.Minute
)

func (backOff) NextRetry(j *rivertype.JobRow) time.Time {
	wait := 5 * time.Second << (2 * min(len(j.Errors), 6)) // 5 s, 20 s, 80 s, … 5.7 h
	most := longestWait
	if j.Kind == string(desk.LookRound) {
		most = longestRound
	}
	return time.Now().Add(min(wait, most))
}
