package mesh

import "slices"

// loops strings sides end to end into closed loops that pass no vertex twice.
// Where several sides leave a vertex the walk takes them in order, and whenever
// it comes back to a vertex it has passed, what lies between is cut off as a
// loop. Sides that lead nowhere are left out.
func loops(m *Mesh, list []int32) [][]int32 {
	type step struct{ from, side int32 }
	steps := make([]step, len(list))
	for i, side := range list {
		a, _ := m.ends(side)
		steps[i] = step{a, side}
	}
	slices.SortFunc(steps, func(p, q step) int {
		if p.from != q.from {
			return int(p.from - q.from)
		}
		return int(p.side - q.side)
	})
	// next[i] is where in steps the unused sides that leave vertex steps[i].from
	// begin; kept at the first of its run.
	first := func(v int32) int {
		i, ok := slices.BinarySearchFunc(steps, v, func(s step, v int32) int { return int(s.from - v) })
		if !ok {
			return -1
		}
		return i
	}
	used := make([]int, len(steps)) // at the first of a run: how many of it are used
	take := func(v int32) (int32, bool) {
		i := first(v)
		if i < 0 {
			return 0, false
		}
		j := i + used[i]
		if j >= len(steps) || steps[j].from != v {
			return 0, false
		}
		used[i]++
		return steps[j].side, true
	}
	var found [][]int32
	var path []int32
	onPath := map[int32]int{} // vertex → where in path the side that leaves it is; looked up only
	for i := range steps {
		v := steps[i].from
		// Invariant: path is a chain of sides from its start to v, and onPath
		// knows every vertex it leaves.
		for {
			side, ok := take(v)
			if !ok {
				if len(path) == 0 {
					break
				}
				// A dead end: drop the side that led here.
				last := path[len(path)-1]
				path = path[:len(path)-1]
				v, _ = m.ends(last)
				delete(onPath, v)
				continue
			}
			onPath[v] = len(path)
			path = append(path, side)
			_, v = m.ends(side)
			if k, ok := onPath[v]; ok {
				loop := slices.Clone(path[k:])
				for _, s := range loop {
					a, _ := m.ends(s)
					delete(onPath, a)
				}
				path = path[:k]
				found = append(found, loop)
			}
		}
	}
	return found
}
