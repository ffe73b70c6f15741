package desk

import (
	"fmt"
	"math"
	"slices"
)

// What is left on a spool is kept to the hundredth of a gram, and so is every
// line of what came and went: the lines of a spool add up to what is left,
// always. A change of the one without the other is not possible here.

// mostGrams bounds what can be on a spool or come off a printer. More is a
// slip of the finger.
const mostGrams = 20_000

// hundredths rounds grams to what is kept.
func hundredths(g float64) float64 { return math.Round(g*100) / 100 }

// sane says whether g can be a mass.
func sane(g float64) bool { return g >= 0 && g <= mostGrams } // NaN is neither

// move changes what is left on s by grams and writes the line. The spool is
// saved by the caller. What would leave less than nothing says that more was
// on it than was known, and so a line that says this goes before.
func (d *Desk) move(tx Tx, s *Spool, grams float64, by Actor, why string, run ID) error {
	grams = hundredths(grams)
	if more := hundredths(-s.Grams - grams); more > 0 {
		if err := d.line(tx, s, more, by, "more was on it than was known", run); err != nil {
			return err
		}
	}
	if grams == 0 {
		return nil
	}
	return d.line(tx, s, grams, by, why, run)
}

func (d *Desk) line(tx Tx, s *Spool, grams float64, by Actor, why string, run ID) error {
	s.Grams = hundredths(s.Grams + grams)
	return tx.AddSpoolLine(&SpoolLine{ID: NewID(), Spool: s.ID, At: d.now(), Who: by.Name, Grams: grams, Why: why, Run: run})
}

// takeOff takes what a run used off its spools, by material: of each as much
// as it holds, in the order they were put on, the rest of the last. Of those
// counted since nothing is taken any more; it is noted that it was.
func (d *Desk) takeOff(tx Tx, run *Run, used map[string]float64, by Actor, why string, counted ...ID) error {
	left := map[string]float64{}
	last := map[string]int{}
	for i, u := range run.Spools {
		left[u.Material], last[u.Material] = hundredths(used[u.Material]), i
	}
	for i := range run.Spools {
		u := &run.Spools[i]
		want := left[u.Material]
		s, err := tx.Spool(u.Spool)
		if err != nil {
			return err
		}
		done := slices.Contains(counted, u.Spool)
		switch {
		case i == last[u.Material]:
		case done:
			want = min(want, u.Taken)
		default:
			want = min(want, s.Grams)
		}
		u.Taken = hundredths(want)
		left[u.Material] = hundredths(left[u.Material] - u.Taken)
		if u.Taken == 0 || done {
			continue
		}
		if err := d.move(tx, &s, -u.Taken, by, why, run.ID); err != nil {
			return err
		}
		if err := tx.SaveSpool(&s); err != nil {
			return err
		}
	}
	return nil
}

// promised is what runs that go on will still take of each spool.
func promised(tx Tx, branches []ID) (map[ID]float64, error) {
	runs, err := tx.ListRuns(RunFilter{States: []RunState{Going, Finished}, Branches: branches})
	if err != nil {
		return nil, err
	}
	out := map[ID]float64{}
	for _, r := range runs {
		for _, u := range r.Spools {
			out[u.Spool] += u.Expect
		}
	}
	return out, nil
}

// checkGrams looks at masses by material as they were typed. Each must be one
// of those the run takes.
func checkGrams(field string, g map[string]float64, of []string, n names, faults map[string]string) {
	for id, x := range g {
		switch {
		case !slices.Contains(of, id):
			faults[field+id] = fmt.Sprintf("This run takes no %s: leave that empty.", n.material(id))
		case !sane(x):
			faults[field+id] = fmt.Sprintf("Write the grams of %s as a number from 0 to %d.", n.material(id), mostGrams)
		}
	}
}
