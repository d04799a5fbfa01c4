package picture

import (
	"math"

	"dropwright/bundle/mesh"
)

// roundSides is how many sides a drawn cylinder has: with CreaseAngle it is shaded round from 11 on, and its
// outline looks round at 40.
const roundSides = 40

// Screw is the solid of a screw: its axis is z, its head's seat at z = 0, its tip below. A countersunk head
// lies below 0 instead, as its length is measured. Sizes in mm; a head of no diameter makes a set screw.
type Screw struct {
	Diameter, Length         float64
	HeadDiameter, HeadHeight float64
	Recess, RecessDepth      float64 // across, of the socket
	Countersunk              bool
}

// Mesh makes the solid. Sizes that make none give an empty mesh.
func (s Screw) Mesh() *mesh.Mesh {
	r, l := s.Diameter/2, s.Length
	if !(r > 0) || !(l > 0) || math.IsInf(r+l, 0) {
		return &mesh.Mesh{}
	}
	chamfer := math.Min(r/4, l/4)
	p := [][2]float64{{0, -l}, {r - chamfer, -l}, {r, -l + chamfer}}
	top, rim := 0.0, r
	if h := s.HeadDiameter / 2; h > r && s.HeadHeight > 0 {
		rim = h
		if s.Countersunk {
			k := math.Min(h-r, 0.9*(l-chamfer)) // 90 degrees (ISO 10642)
			p = append(p, [2]float64{r, -k}, [2]float64{h, 0})
		} else {
			top = s.HeadHeight
			p = append(p, [2]float64{r, 0}, [2]float64{h, 0}, [2]float64{h, top})
		}
	} else {
		p = append(p, [2]float64{r, 0})
	}
	if k := s.Recess / 2; k > 0 && k < rim && s.RecessDepth > 0 && s.RecessDepth < top+l {
		p = append(p, [2]float64{k, top}, [2]float64{k, top - s.RecessDepth}, [2]float64{0, top - s.RecessDepth})
	} else {
		p = append(p, [2]float64{0, top})
	}
	return mesh.Lathe(p, roundSides)
}

// Ring is a disc or prism with a hole: from z = 0 to height, round or with six sides across flats of outer. A bore
// of 0 leaves it full. It draws washers, nuts, inserts and magnets.
func Ring(outer, bore, height float64, hexagon bool) *mesh.Mesh {
	if !(outer > 0) || !(height > 0) || !(bore >= 0) || bore >= outer || math.IsInf(outer+height, 0) {
		return &mesh.Mesh{}
	}
	if bore == 0 {
		if hexagon {
			return mesh.Prism(6, outer/math.Sqrt(3), height)
		}
		return mesh.Prism(48, outer/2, height)
	}
	const n = 48 // of which every eighth is a corner of the hexagon
	m := &mesh.Mesh{}
	for _, z := range [2]float64{0, height} {
		for _, inner := range [2]bool{false, true} {
			for i := range n {
				a := 2 * math.Pi * float64(i) / n
				r := outer / 2
				if inner {
					r = bore / 2
				} else if hexagon {
					r /= math.Cos(math.Mod(a+math.Pi/6, math.Pi/3) - math.Pi/6)
				}
				sin, cos := math.Sincos(a)
				m.Vertices = append(m.Vertices, [3]float32{float32(r * cos), float32(r * sin), float32(z)})
			}
		}
	}
	quad := func(a, b, c, d uint32) {
		m.Triangles = append(m.Triangles, [3]uint32{a, b, c}, [3]uint32{a, c, d})
	}
	for i := range uint32(n) {
		j := (i + 1) % n
		low, lowIn, high, highIn := uint32(0), uint32(n), uint32(2*n), uint32(3*n)
		quad(low+i, low+j, high+j, high+i)         // outside
		quad(lowIn+j, lowIn+i, highIn+i, highIn+j) // bore
		quad(low+j, low+i, lowIn+i, lowIn+j)       // below
		quad(high+i, high+j, highIn+j, highIn+i)   // above
	}
	return m
}

// Along is the motion that turns z into a direction and shifts the origin to at: it sets a screw into its joint,
// its head where the direction points.
func Along(at, direction [3]float64) mesh.Matrix {
	z := unit(direction)
	if z == (vec{}) {
		z = vec{0, 0, 1}
	}
	side := vec{1, 0, 0}
	if math.Abs(z[0]) > 0.9 {
		side = vec{0, 1, 0}
	}
	y := unit(cross(z, side))
	x := cross(y, z)
	var m mesh.Matrix
	for i := range 3 {
		m[i] = [4]float64{x[i], y[i], z[i], at[i]}
	}
	return m
}
