package mesh

import "sync"

// labels keeps which facets hang together. Most joins meet a facet without a label, which takes that
// of its neighbour, or two with the same; labels that turn out to be one are linked in a union-find, of
// which there are far fewer than facets.
type labels struct {
	mu     sync.Mutex // held for a batch of joins
	of     []uint32   // by facet: its label, 0 for none
	memory scratch[uint32]
	up     []uint32 // by label: one that it is the same as, or itself
	sink   uint32   // keeps the touching loop alive
}

// init takes over spare as memory, if it is large enough.
func (l *labels) init(n int, spare scratch[uint32]) {
	if len(spare.s) < n {
		spare.free()
		spare = newScratch[uint32](n)
	}
	l.memory, l.of = spare, spare.s[:n]
	clear(l.of)
	l.up = []uint32{0}
}

func (l *labels) free() {
	l.of = nil
	l.memory.free()
}

// join makes the facets of each pair hang together.
func (l *labels) join(pairs [][2]uint32) {
	l.mu.Lock()
	defer l.mu.Unlock()
	of := l.of
	for _, p := range pairs { // touch them all, so that cache misses overlap
		l.sink += of[p[0]] + of[p[1]]
	}
	for _, p := range pairs {
		a, b := &of[p[0]], &of[p[1]]
		switch {
		case *a == *b:
			if *a == 0 {
				*a = uint32(len(l.up))
				*b = *a
				l.up = append(l.up, *a)
			}
		case *a == 0:
			*a = *b
		case *b == 0:
			*b = *a
		default:
			ra, rb := find(l.up, *a), find(l.up, *b)
			r := min(ra, rb)
			l.up[ra], l.up[rb] = r, r
			*a, *b = r, r
		}
	}
}

// union joins the sets of a and b in a union-find.
func union(parent []uint32, a, b uint32) {
	a, b = find(parent, a), find(parent, b)
	if a < b {
		parent[b] = a
	} else {
		parent[a] = b
	}
}

// find returns the root of i, halving the path on the way.
func find(parent []uint32, i uint32) uint32 {
	for parent[i] != i {
		parent[i] = parent[parent[i]]
		i = parent[i]
	}
	return i
}
