package mesh

// Limits bound what reading one file may cost. A zero field takes its default,
// so the zero Limits are DefaultLimits.
type Limits struct {
	Bytes     int64 // size of the file
	Facets    int   // facets of the model, copies placed by a 3MF counted
	Vertices  int   // vertices of the model, before welding if the file has a list of them
	Expanded  int64 // bytes a compressed file may unpack to, all parts together
	Ratio     int64 // how many times its packed size one part may unpack to
	Entries   int   // parts in a compressed file
	Depth     int   // how deep XML elements or 3MF components may nest
	Instances int   // objects placed by a 3MF, nested ones counted
}

// DefaultLimits are ample for a desk: the largest printable models patrons
// send stay well below, and reading up to them stays within 1.5 GB.
func DefaultLimits() Limits {
	return Limits{
		Bytes:     256 << 20,
		Facets:    4_000_000,
		Vertices:  6_000_000,
		Expanded:  1 << 30,
		Ratio:     400,
		Entries:   10_000,
		Depth:     64,
		Instances: 100_000,
	}
}

// ratioFloor is what a part may unpack to before Ratio is looked at: a small
// part of many equal lines packs very well and harms nobody.
const ratioFloor = 8 << 20

func (l Limits) filled() Limits {
	d := DefaultLimits()
	fill(&l.Bytes, d.Bytes)
	fill(&l.Facets, d.Facets)
	fill(&l.Vertices, d.Vertices)
	fill(&l.Expanded, d.Expanded)
	fill(&l.Ratio, d.Ratio)
	fill(&l.Entries, d.Entries)
	fill(&l.Depth, d.Depth)
	fill(&l.Instances, d.Instances)
	// Places in a file and numbers of facets and vertices are 32-bit.
	l.Bytes = min(l.Bytes, 1<<31-1)
	l.Facets = min(l.Facets, 1<<30)
	l.Vertices = min(l.Vertices, 1<<30)
	return l
}

func fill[T int | int64](v *T, d T) {
	if *v <= 0 {
		*v = d
	}
}
