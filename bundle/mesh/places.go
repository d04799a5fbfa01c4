package mesh

import "slices"

// maxPlaces is how many places are kept of one kind of fault: enough to find it, few enough to read.
const maxPlaces = 10

// places keeps the first few places in order of x, y, z: which ones are kept must not depend on the
// order of the facets.
type places struct{ at [][3]float64 }

func (p *places) add(q [3]float64) {
	if len(p.at) == maxPlaces && comparePlaces(q, p.at[maxPlaces-1]) >= 0 {
		return
	}
	i, _ := slices.BinarySearchFunc(p.at, q, comparePlaces)
	if len(p.at) == maxPlaces {
		p.at = p.at[:maxPlaces-1]
	}
	p.at = slices.Insert(p.at, i, q)
}

func (p *places) merge(o *places) {
	for _, q := range o.at {
		p.add(q)
	}
}

func comparePlaces(a, b [3]float64) int { return slices.Compare(a[:], b[:]) }
