package mesh

import (
	"cmp"
	"math"
	"slices"
)

// Walls holds how thick the material of a mesh is under sample points of its surface.
type Walls struct {
	Thinnest float64    // mm; 0 if no two faces oppose each other
	At       [3]float64 // mm, the middle of the thinnest wall
	samples  []wallSample
}

type wallSample struct {
	thickness float64
	area      float64 // of the surface that the sample stands for, mm2
	at        [3]float64
}

const (
	// At least one sample for each mm2, and at least 20000 in all: finds features of about a mm2. Tried
	// on enclosures.
	minWallSamples = 20_000
	maxWallSamples = 200_000
	// Up to so many facets, each has at least one sample.
	everyFacet = 100_000
	// A face opposes another if the two are within 30 degrees of parallel: a drafted rib is a wall, the edge
	// of a 45 degree chamfer or the flank of a thread is none, thin as it gets at its tip. Assumed.
	opposes = 0.866
)

// MeasureWalls sends a ray from sample points of the surface straight into the material and takes the
// distance to where it comes out again, if that face opposes the one it came from. Samples are spread by
// area and depend on the facets alone, not on their order. Flat walls come out exactly (to the
// rounding of float32), curved ones to the height of their chords. Vertices of equal place should be
// one (Weld), and the mesh closed: through a hole in the surface a wall may be missed.
func MeasureWalls(m *Mesh) Walls {
	points := wallPoints(m)
	if len(points) == 0 {
		return Walls{}
	}
	grid := newRayGrid(m)
	const chunk = 256
	parallel((len(points)+chunk-1)/chunk, func(_, c int) {
		for i := c * chunk; i < min(len(points), (c+1)*chunk); i++ {
			p := &points[i]
			p.thickness = grid.through(p.at, p.normal)
		}
	})
	w := Walls{}
	for _, p := range points {
		if p.thickness <= 0 {
			continue
		}
		s := wallSample{thickness: p.thickness, area: p.area}
		for a := range 3 {
			s.at[a] = p.at[a] - p.normal[a]*p.thickness/2
		}
		w.samples = append(w.samples, s)
	}
	slices.SortFunc(w.samples, func(a, b wallSample) int {
		return cmp.Or(cmp.Compare(a.thickness, b.thickness), slices.Compare(a.at[:], b.at[:]), cmp.Compare(a.area, b.area))
	})
	if len(w.samples) > 0 {
		w.Thinnest = w.samples[0].thickness
		w.At = w.samples[0].at
	}
	return w
}

// Below is the area of surface (mm2) under which the material is thinner than t millimetres. Both sides
// of a wall count.
func (w Walls) Below(t float64) float64 {
	sum := 0.0
	for _, s := range w.samples {
		if s.thickness >= t {
			break
		}
		sum += s.area
	}
	return sum
}

type wallPoint struct {
	at, normal [3]float64
	area       float64
	thickness  float64 // 0: nothing opposes
}

// wallPoints spreads the samples. How many a facet gets is its area times the density, rounded up or down
// by a number made from its coordinates: right on average, and the same in whatever order the facets
// come.
func wallPoints(m *Mesh) []wallPoint {
	total := 0.0
	for _, t := range m.Triangles {
		n := facetNormal(m, t)
		total += math.Sqrt(n[0]*n[0]+n[1]*n[1]+n[2]*n[2]) / 2
	}
	if total == 0 {
		return nil
	}
	// The sum depends on the order of facets in its last digits only: cut those off.
	density := math.Float64frombits(math.Float64bits(min(max(1, minWallSamples/total), maxWallSamples/total)) &^ (1<<24 - 1))
	atLeast := 0
	if len(m.Triangles) <= everyFacet {
		atLeast = 1
	}
	points := make([]wallPoint, 0, int(density*total)+atLeast*len(m.Triangles))
	for _, t := range m.Triangles {
		n := facetNormal(m, t)
		length := math.Sqrt(n[0]*n[0] + n[1]*n[1] + n[2]*n[2])
		if length == 0 {
			continue
		}
		t = smallestFirst(m, t)
		a, b, c := wide(m.Vertices[t[0]]), wide(m.Vertices[t[1]]), wide(m.Vertices[t[2]])
		seed := facetSeed(m, t)
		area := length / 2
		count := max(atLeast, int(area*density+fraction(seed)))
		for k := range count {
			u, v := 1.0/3, 1.0/3
			if count > 1 {
				// Plastic-number sequence (Roberts 2018), folded into the triangle.
				u = math.Mod(fraction(seed)+float64(k)*0.7548776662466927, 1)
				v = math.Mod(fraction(seed*31)+float64(k)*0.5698402909980532, 1)
				if u+v > 1 {
					u, v = 1-u, 1-v
				}
			}
			p := wallPoint{area: area / float64(count)}
			for x := range 3 {
				p.at[x] = a[x] + u*(b[x]-a[x]) + v*(c[x]-a[x])
				p.normal[x] = n[x] / length
			}
			points = append(points, p)
		}
	}
	return points
}

// smallestFirst turns the corners so that the smallest comes first, in the same sense.
func smallestFirst(m *Mesh, t [3]uint32) [3]uint32 {
	first := 0
	for k := 1; k < 3; k++ {
		if slices.Compare(m.Vertices[t[k]][:], m.Vertices[t[first]][:]) < 0 {
			first = k
		}
	}
	return [3]uint32{t[first], t[(first+1)%3], t[(first+2)%3]}
}

// facetSeed mixes the bits of a facet's coordinates (FNV-1a over words, then the finish of SplitMix64).
func facetSeed(m *Mesh, t [3]uint32) uint64 {
	h := uint64(14695981039346656037)
	for _, id := range t {
		for _, x := range m.Vertices[id] {
			h = (h ^ uint64(math.Float32bits(x+0))) * 1099511628211
		}
	}
	h = (h ^ h>>30) * 0xbf58476d1ce4e5b9
	h = (h ^ h>>27) * 0x94d049bb133111eb
	return h ^ h>>31
}

// fraction is a number in [0, 1) from the upper bits of h.
func fraction(h uint64) float64 { return float64(h>>11) / (1 << 53) }
