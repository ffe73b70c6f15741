package desk

import (
	"context"
	"fmt"
	"slices"
)

// WaysWork is what the finding of ways needs.
type WaysWork struct {
	Request  Request
	Files    map[ID]File
	Models   []string // printer models the library has, by id
	Settings Settings
}

// RequestForWays returns what the finding of ways needs. When nothing waits for
// ways any more it is NotNow.
func (d *Desk) RequestForWays(ctx context.Context, request ID) (WaysWork, error) {
	w := WaysWork{Files: map[ID]File{}}
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		if w.Request, err = tx.Request(request); err != nil {
			return err
		}
		if !w.Request.seeks() {
			return Faultf(NotNow, "No ways are sought for this request any more.")
		}
		files, err := tx.FilesOf(request)
		if err != nil {
			return err
		}
		for _, f := range files {
			w.Files[f.ID] = f
		}
		printers, err := tx.Printers(nil)
		if err != nil {
			return err
		}
		for _, p := range printers {
			if !p.Retired && !slices.Contains(w.Models, p.Model) {
				w.Models = append(w.Models, p.Model)
			}
		}
		w.Settings, err = settings(tx)
		return err
	})
	return w, err
}

// seeks says whether ways are still to be found.
func (r Request) seeks() bool {
	return r.Basis.State.open() && (r.State == Received || r.State == InReview)
}

// KeepWays keeps the ways found for a plan, unless another plan was made
// meanwhile: asked is the Basis.Asked they were sought for.
func (d *Desk) KeepWays(ctx context.Context, request ID, asked int64, ways []Way, b Basis) error {
	return d.waysEnd(ctx, request, asked, func(tx Tx, r *Request) (Event, error) {
		b.State, b.Asked, b.At, b.Doing = Done, asked, d.now(), ""
		r.Basis, r.Ways = b, ways
		refer := hashes(b.Picture)
		for _, w := range ways {
			refer = append(refer, hashes(w.Still)...)
		}
		say := "No way to print it was found."
		switch n := len(ways); {
		case n == 1:
			say = "One way to print it was found."
		case n > 1:
			say = fmt.Sprintf("%d ways to print it were found.", n)
		}
		return Event{What: "ways", Say: say}, tx.Refer(r.ID, refer...)
	})
}

// WaysFailed notes that the finding of ways came to nothing by a mistake of
// ours, in a sentence for staff.
func (d *Desk) WaysFailed(ctx context.Context, request ID, asked int64, why string) error {
	return d.waysEnd(ctx, request, asked, func(tx Tx, r *Request) (Event, error) {
		r.Basis = Basis{State: Failed, Trouble: why, Asked: asked, At: d.now()}
		r.Ways = nil
		return Event{What: "ways failed", Say: "Ways to print it could not be sought: " + why}, nil
	})
}

// waysEnd brings the seeking of ways to an end, unless it is about an older plan.
func (d *Desk) waysEnd(ctx context.Context, request ID, asked int64, end func(Tx, *Request) (Event, error)) error {
	return d.Store.Write(ctx, func(tx Tx) error {
		r, err := tx.Request(request)
		if err != nil {
			return err
		}
		if !r.seeks() || r.Basis.Asked != asked {
			return nil
		}
		_, err = d.change(tx, request, 0, Clockwork(), func(r *Request) (Event, error) { return end(tx, r) })
		return err
	})
}

// seekWays has ways sought for r's plan, which was changed: call it within
// change, before r is saved.
func (d *Desk) seekWays(tx Tx, r *Request) error {
	r.Basis = Basis{State: Waiting, Asked: r.Basis.Asked + 1, At: d.now()}
	r.Ways = nil
	return tx.Enqueue(Job{Kind: FindWays, ID: r.ID, Round: r.Basis.Asked})
}
