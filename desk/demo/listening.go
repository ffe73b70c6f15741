package demo

import (
	"context"

	"platebook/desk"
)

// listening is a store whose jobs are heard instead of queued.
type listening struct {
	desk.Store
	jobs func(desk.Job)
}

func (l *listening) Write(ctx context.Context, do func(desk.Tx) error) error {
	var heard []desk.Job
	err := l.Store.Write(ctx, func(tx desk.Tx) error {
		heard = nil // it may run again
		return do(hearing{tx, &heard})
	})
	if err == nil {
		for _, j := range heard {
			l.jobs(j)
		}
	}
	return err
}

type hearing struct {
	desk.Tx
	heard *[]desk.Job
}

func (h hearing) Enqueue(j desk.Job) error {
	*h.heard = append(*h.heard, j)
	return nil
}
