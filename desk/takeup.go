package desk

import "context"

// takeUp puts in what should be waiting in the queue and may not be: a desk
// that was restored into another database has all its rows and an empty queue.
// What is there is not put in a second time, and a file or plan that has its
// answer by then needs none.
func (d *Desk) takeUp(ctx context.Context) error {
	owed := func(tx Tx) ([]Job, error) {
		rs, err := tx.ListRequests(RequestFilter{States: []State{Received, InReview}})
		if err != nil {
			return nil, err
		}
		var jobs []Job
		var ids []ID
		for _, r := range rs {
			ids = append(ids, r.ID)
			if r.Basis.State.open() {
				jobs = append(jobs, Job{Kind: FindWays, ID: r.ID, Round: r.Basis.Asked})
			}
		}
		files, err := tx.FilesOfAll(ids)
		for _, f := range files {
			if f.Check.open() {
				jobs = append(jobs, Job{Kind: CheckFile, ID: f.ID})
			}
		}
		return jobs, err
	}
	var jobs []Job
	err := d.Store.Read(ctx, func(tx Tx) (err error) {
		jobs, err = owed(tx)
		return err
	})
	if err != nil || len(jobs) == 0 {
		return err
	}
	return d.Store.Write(ctx, func(tx Tx) error {
		jobs, err := owed(tx)
		if err != nil {
			return err
		}
		for _, j := range jobs {
			if err := tx.Enqueue(j); err != nil {
				return err
			}
		}
		return nil
	})
}
