package desk

import "slices"

// State is where a request stands.
type State string

const (
	Received   State = "received"
	InReview   State = "in review"
	WithPatron State = "with the patron"
	Agreed     State = "agreed"
	Printing   State = "printing"
	OnShelf    State = "on the hold shelf"
	Collected  State = "collected"
	Declined   State = "declined"  // by staff
	Withdrawn  State = "withdrawn" // by the patron
	Lapsed     State = "lapsed"    // no answer, or never collected
)

// States lists every state in the order a request goes through them.
func States() []State {
	return []State{Received, InReview, WithPatron, Agreed, Printing, OnShelf, Collected, Declined, Withdrawn, Lapsed}
}

// follows says which states may come after which. Backward steps: a quote is
// taken back for another look (with the patron → in review), agreed terms are
// opened again at the patron's wish before anything is printed (agreed → in
// review), a plate turns out bad on the shelf (on the hold shelf → printing),
// and a run that cannot be printed at all is declined.
var follows = map[State][]State{
	Received:   {InReview, Declined, Withdrawn, Lapsed},
	InReview:   {WithPatron, Declined, Withdrawn, Lapsed},
	WithPatron: {Agreed, InReview, Declined, Withdrawn, Lapsed},
	Agreed:     {Printing, InReview, Declined, Withdrawn},
	Printing:   {OnShelf, InReview, Declined},
	OnShelf:    {Collected, Printing, Lapsed},
}

// MayFollow says whether next may come after s.
func (s State) MayFollow(next State) bool {
	return slices.Contains(follows[s], next)
}

// Over says whether nothing can come after s.
func (s State) Over() bool { return len(follows[s]) == 0 }
