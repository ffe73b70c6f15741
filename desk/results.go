package desk

import (
	"context"
)

// CheckWork is what the check of a file needs.
type CheckWork struct {
	File     File
	Settings Settings
}

// FileForCheck notes that a file's check has begun, and returns what it needs.
// A file that needs no check any more is NotNow, one that is gone NotFound.
func (d *Desk) FileForCheck(ctx context.Context, file ID) (CheckWork, error) {
	return CheckWork{}, Faultf(Broken, "Not built yet.")
}

// NoteDoing shows on the pages what a file's check is at.
func (d *Desk) NoteDoing(ctx context.Context, file ID, doing string) error {
	return Faultf(Broken, "Not built yet.")
}

// KeepCheck keeps what the check of a file found. When it was the last of a
// request's, the plan the wish amounts to is made and ways are sought for it.
func (d *Desk) KeepCheck(ctx context.Context, file ID, c Checked) error {
	return Faultf(Broken, "Not built yet.")
}

// CheckFailed notes that a check came to nothing by a mistake of ours, in a
// sentence for staff. The file is kept.
func (d *Desk) CheckFailed(ctx context.Context, file ID, why string) error {
	return Faultf(Broken, "Not built yet.")
}

// CheckAgain has a file checked once more, as staff ask after a check failed.
func (d *Desk) CheckAgain(ctx context.Context, by Actor, file ID) error {
	return Faultf(Broken, "Not built yet.")
}

// WaysWork is what the finding of ways needs.
type WaysWork struct {
	Request  Request
	Files    map[ID]File
	Settings Settings
}

// RequestForWays returns what the finding of ways needs. When nothing waits for
// ways any more it is NotNow.
func (d *Desk) RequestForWays(ctx context.Context, request ID) (WaysWork, error) {
	return WaysWork{}, Faultf(Broken, "Not built yet.")
}

// KeepWays keeps the ways found for a plan, unless another plan was made
// meanwhile: asked is the Basis.Asked they were sought for.
func (d *Desk) KeepWays(ctx context.Context, request ID, asked int64, ways []Way, b Basis) error {
	return Faultf(Broken, "Not built yet.")
}

// WaysFailed notes that the finding of ways came to nothing by a mistake of
// ours, in a sentence for staff.
func (d *Desk) WaysFailed(ctx context.Context, request ID, asked int64, why string) error {
	return Faultf(Broken, "Not built yet.")
}

// seekWays has ways sought for r's plan, which was changed: call it within
// change, before r is saved.
func (d *Desk) seekWays(tx Tx, r *Request) error {
	r.Basis = Basis{State: Waiting, Asked: r.Basis.Asked + 1, At: d.now()}
	r.Ways = nil
	return tx.Enqueue(Job{Kind: FindWays, ID: r.ID, Round: r.Basis.Asked})
}
