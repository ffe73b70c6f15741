package desk

import "time"

// Role is what a member of staff may do.
type Role string

const (
	Reviewer Role = "reviewer" // decides: reviews, quotes, declines, answers
	Operator Role = "operator" // prints, weighs, shelves, hands over
	Manager  Role = "manager"  // both, and settings, money waived, staff
)

// Roles lists all roles.
func Roles() []Role { return []Role{Reviewer, Operator, Manager} }

// Grant is a role at a branch; an empty branch means all of them.
type Grant struct {
	Role   Role `json:"role"`
	Branch ID   `json:"branch,omitempty"`
}

// Staff is an account.
type Staff struct {
	ID       ID
	Version  int64
	Name     string // to log in with
	Called   string // shown to patrons and colleagues
	Password string // argon2id, in PHC string format
	Grants   []Grant
	Home     ID // branch Today opens at
	Active   bool
	Made     time.Time
	// Renewed is when the password was last set: sessions begun before are over.
	Renewed time.Time
	// OneTime says the password is a word a manager handed over: it is good for
	// some days, and only for setting another.
	OneTime bool
}

// ActorKind says what sort of someone does a thing.
type ActorKind string

const (
	ByPatron ActorKind = "patron"
	ByStaff  ActorKind = "staff"
	ByClock  ActorKind = "clock" // background work
)

// Actor is whoever does a thing.
type Actor struct {
	Kind   ActorKind
	ID     ID     // of the staff account
	Name   string // as history shows it
	Grants []Grant
	From   string // network address, for the audit of log-ins
	Home   ID     // branch Today opens at
	// MustRenew says the person came with a one-time word and may do nothing
	// but set a password of their own: there are no Grants.
	MustRenew bool
}

// Clockwork is the actor of background work.
func Clockwork() Actor { return Actor{Kind: ByClock, Name: "the clock"} }

// APatron is the actor of a patron's page.
func APatron() Actor { return Actor{Kind: ByPatron, Name: "patron"} }

// May says whether a has one of the roles at the branch. A manager may what
// the others may.
func (a Actor) May(branch ID, roles ...Role) bool {
	if a.Kind != ByStaff {
		return false
	}
	for _, g := range a.Grants {
		if g.Branch != "" && g.Branch != branch {
			continue
		}
		if g.Role == Manager {
			return true
		}
		for _, r := range roles {
			if g.Role == r {
				return true
			}
		}
	}
	return false
}

// Everywhere says whether a is a manager of all branches, as settings that
// hold for the whole library need.
func (a Actor) Everywhere() bool {
	for _, g := range a.Grants {
		if a.Kind == ByStaff && g.Role == Manager && g.Branch == "" {
			return true
		}
	}
	return false
}

// Require is May as an error.
func (a Actor) Require(branch ID, roles ...Role) error {
	if a.May(branch, roles...) {
		return nil
	}
	return Faultf(NotYours, "Your account may not do this at this branch. Ask a manager of the branch to do it, or to widen your account.")
}

// LogIn is one line of the audit of log-ins.
type LogIn struct {
	At   time.Time
	Name string // as typed, cut short
	From string // network address
	OK   bool
	Why  string // for those that failed
}
