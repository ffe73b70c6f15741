package desk

import (
	"fmt"
	"net/netip"
	"time"
)

// Guessing is slowed down by what the audit of log-ins remembers, so that a
// restart forgets nothing and two processes agree:
//
//   - a name from one address: some tries are free, then each wait is twice
//     the last;
//   - a name from anywhere, for guessing spread over many addresses;
//   - an address with any names, for guessing one password at many names.
//
// The last two would also let a stranger keep a colleague out. So they do not
// hold where the person has logged in before from the same address.

// allowance is how many failures are free and how the waits grow after.
type allowance struct {
	free  int
	first time.Duration // after the first that is not free; then doubling
	back  time.Duration // how long failures count
}

var (
	byNameAndAddress = allowance{5, 15 * time.Second, 24 * time.Hour}
	byName           = allowance{20, 30 * time.Second, 24 * time.Hour}
	byAddress        = allowance{40, 15 * time.Second, 2 * time.Hour}
)

const (
	longestWait = 15 * time.Minute
	known       = 30 * 24 * time.Hour // an address counts as known so long after a log-in
	mostLines   = 400                 // of the audit looked at for one try
)

// wait is how long from now a try must be put off, given failures, newest first.
func (a allowance) wait(failed []LogIn, now time.Time) time.Duration {
	n := len(failed)
	if n < a.free {
		return 0
	}
	w := longestWait
	if doublings := n - a.free; doublings < 10 {
		w = min(longestWait, a.first<<doublings)
	}
	return max(0, failed[0].At.Add(w).Sub(now))
}

// failures picks the failed ones of lines (newest first); with untilOK only
// those after the last success, which ends a row of failures. What is yet to
// come was written before the clock was set back, and says nothing of when: it
// would shut everybody out until then.
func failures(lines []LogIn, untilOK bool, now time.Time) []LogIn {
	var failed []LogIn
	for _, l := range lines {
		if l.At.After(now.Add(time.Minute)) {
			continue
		}
		if l.OK {
			if untilOK {
				break
			}
			continue
		}
		failed = append(failed, l)
	}
	return failed
}

// throttle says whether a try at name from an address must wait.
func throttle(tx Tx, name, from string, now time.Time) error {
	pair, err := tx.LogIns(now.Add(-known), name, from, mostLines)
	if err != nil {
		return err
	}
	isKnown := false
	recent := []LogIn{}
	for _, l := range pair {
		isKnown = isKnown || l.OK
		if !l.At.Before(now.Add(-byNameAndAddress.back)) {
			recent = append(recent, l)
		}
	}
	wait := byNameAndAddress.wait(failures(recent, true, now), now)
	if !isKnown {
		lines, err := tx.LogIns(now.Add(-byName.back), name, "", mostLines)
		if err != nil {
			return err
		}
		wait = max(wait, byName.wait(failures(lines, false, now), now))
		if lines, err = tx.LogIns(now.Add(-byAddress.back), "", from, mostLines); err != nil {
			return err
		}
		wait = max(wait, byAddress.wait(failures(lines, false, now), now))
	}
	if wait == 0 {
		return nil
	}
	return Faultf(TooMany, "Too many tries did not succeed. Wait %s, then try again. A manager can give you a new password if you have lost yours.", inWords(wait))
}

// inWords says a wait, rounded up so that it is long enough.
func inWords(d time.Duration) string {
	if s := int((d + time.Second - 1) / time.Second); s < 120 {
		if s == 1 {
			return "1 second"
		}
		return fmt.Sprintf("%d seconds", s)
	}
	return fmt.Sprintf("%d minutes", int((d+time.Minute-1)/time.Minute))
}

// network is the address as the audit keeps it: an IPv6 address as its /64,
// which is what one household or one machine has to itself.
func network(from string) string {
	if ap, err := netip.ParseAddrPort(from); err == nil {
		from = ap.Addr().String()
	}
	a, err := netip.ParseAddr(from)
	if err != nil {
		if from = CleanLine(from, 60); from == "" {
			return "unknown" // an empty one would mean any
		}
		return from
	}
	a = a.Unmap().WithZone("")
	if a.Is6() {
		if p, err := a.Prefix(64); err == nil {
			return p.String()
		}
	}
	return a.String()
}
