package region

// Nonzero returns the canonical region of rings under the nonzero winding rule:
// a point is inside if the rings wind around it, in whichever direction.
func Nonzero(rings ...Ring) Region { return read(ruleNonzero, rings) }

// read returns the canonical region of rings under f.
func read(f rule, rings []Ring) Region {
	w := newWork()
	for _, ring := range rings {
		w.add(ring, 1, 0)
	}
	return w.result(f)
}

// both returns f of two regions, each read under the nonzero winding rule.
func both(f rule, a, b Region) Region {
	w := newWork()
	for _, ring := range a {
		w.add(ring, 1, 0)
	}
	for _, ring := range b {
		w.add(ring, 0, 1)
	}
	return w.result(f)
}

// Union returns the points in any of rs.
func Union(rs ...Region) Region {
	switch len(rs) {
	case 0:
		return nil
	case 1:
		return Nonzero(rs[0]...)
	case 2:
		return both(ruleUnion, rs[0], rs[1])
	}
	// Sound regions have winding 0 or 1, so sums do not cancel. Others are
	// made sound first.
	w := newWork()
	for _, r := range rs {
		for _, ring := range r.sound() {
			w.add(ring, 1, 0)
		}
	}
	return w.result(rulePositive)
}

// Intersect returns the points in both a and b.
func Intersect(a, b Region) Region { return both(ruleIntersect, a, b) }

// Subtract returns the points in a and not in b. To take several regions away
// at once, let b be all their rings together.
func Subtract(a, b Region) Region { return both(ruleSubtract, a, b) }

// Xor returns the points in one of a and b only.
func Xor(a, b Region) Region { return both(ruleXor, a, b) }

// sound returns r if its edges do not cross and have the interior on their left,
// else the same region made so.
func (r Region) sound() Region {
	if check(r) == nil {
		return r
	}
	return Nonzero(r...)
}
