package desk

// close brings r to its end in tx: sets state, Closed and Due, and counts it in
// the tally. Call it within change, before r is saved. Why, if any, is what the
// patron is told.
func (d *Desk) close(tx Tx, r *Request, state State, why string) error {
	return Faultf(Broken, "Not built yet.")
}
