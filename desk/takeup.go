package desk

import "context"

// takeUp puts in what should be waiting in the queue and may not be: a desk
// that was restored into another database has all its rows and an empty queue.
// What is there is not put in a second time, and a file or plan that has its
// answer by then needs none. It goes through what is open a few at a time, so
// that a backlog of thousands neither fills the memory nor keeps writers out.
func (d *Desk) takeUp(ctx context.Context) error {
	f := RequestFilter{States: []State{Received, InReview}, Brief: true, Most: 200}
	for ctx.Err() == nil {
		var page []Request
		var jobs []Job
		err := d.Store.Read(ctx, func(tx Tx) (err error) {
			if page, err = tx.ListRequests(f); err == nil {
				jobs, err = jobsOwed(tx, page)
			}
			return err
		})
		if err == nil && len(jobs) > 0 {
			err = d.Store.Write(ctx, func(tx Tx) error { return enqueueOwed(tx, page) })
		}
		if err != nil {
			return err
		}
		if len(page) < f.Most {
			return nil
		}
		f.After = page[len(page)-1].ID
	}
	return ctx.Err()
}

// enqueueOwed puts in what the requests of a page owe as they are now.
func enqueueOwed(tx Tx, page []Request) error {
	ids := make([]ID, len(page))
	for i, r := range page {
		ids[i] = r.ID
	}
	now, err := tx.ListRequests(RequestFilter{IDs: ids, States: []State{Received, InReview}, Brief: true})
	if err != nil {
		return err
	}
	jobs, err := jobsOwed(tx, now)
	if err != nil {
		return err
	}
	for _, j := range jobs {
		if err := tx.Enqueue(j); err != nil {
			return err
		}
	}
	return nil
}

// jobsOwed lists what is to be done for requests.
func jobsOwed(tx Tx, rs []Request) (jobs []Job, err error) {
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
