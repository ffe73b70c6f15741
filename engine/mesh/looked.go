package mesh

// looked keeps what is known of one mesh while it is healed. Each step of
// healing asks for the edges, and most steps change nothing; finding the edges
// anew for each was most of the time healing took.
type looked struct {
	s       *sides
	e       *edgeSurvey
	sh      *shells
	thin    []int32
	scanned bool // thin is known
}

// at forgets what is known if it is of another mesh.
func (k *looked) at(m *Mesh) {
	if k.s == nil || k.s.m != m {
		*k = looked{s: sidesOf(m)}
	}
}

func (k *looked) sides(m *Mesh) *sides {
	k.at(m)
	return k.s
}

func (k *looked) edges(m *Mesh) *edgeSurvey {
	k.at(m)
	if k.e == nil {
		e := surveyEdges(k.s)
		k.e = &e
	}
	return k.e
}

func (k *looked) shells(m *Mesh) *shells {
	k.at(m)
	if k.sh == nil {
		k.sh = shellsOf(k.s)
	}
	return k.sh
}

// slender returns the facets without area, in order, those that name a vertex
// twice among them.
func (k *looked) slender(m *Mesh) []int32 {
	k.at(m)
	if k.sh != nil {
		return k.sh.thin
	}
	if !k.scanned {
		k.thin, k.scanned = slenderFacets(m), true
	}
	return k.thin
}

func slenderFacets(m *Mesh) []int32 {
	var by [8][]int32
	parts := share(len(m.F), 1<<14, func(part, from, to int) {
		var list []int32
		for i, f := range m.F[from:to] {
			if slender(m.V[f[0]], m.V[f[1]], m.V[f[2]]) {
				list = append(list, int32(from+i))
			}
		}
		by[part] = list
	})
	list := by[0]
	for _, l := range by[1:parts] {
		list = append(list, l...)
	}
	return list
}

// tidy returns m with its vertices numbered as facets first use them: m itself
// if they are.
func tidy(m *Mesh) *Mesh {
	next := int32(0)
	for i := range m.F {
		for _, v := range m.F[i] {
			if v > next {
				return compact(m)
			}
			if v == next {
				for _, x := range m.V[v] {
					if x == 0 && 1/x < 0 {
						return compact(m)
					}
				}
				next++
			}
		}
	}
	if int(next) != len(m.V) {
		return compact(m)
	}
	return m
}
