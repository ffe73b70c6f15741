package region

// Micron is a length or coordinate on the grid: 1/1000 mm.
type Micron int64

// Limit is the largest magnitude of a coordinate (536 m): differences then fit
// 2^30 and products of differences fit int64, so predicates are exact.
const Limit Micron = 1 << 29

// Point is a grid point.
type Point struct{ X, Y Micron }

// Ring is a closed contour; the last point joins the first.
type Ring []Point

// Region is a set of points bounded by rings. A canonical Region (what every
// function here returns) has no crossing edges, outer rings counter-clockwise
// and holes clockwise, and interior on the left of every edge. A Region built
// by hand may be anything: every operation reads its argument under the nonzero
// winding rule (measures such as Area take it as it stands). The zero Region is
// empty.
type Region []Ring
