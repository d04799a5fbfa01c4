package picture

import (
	"math"

	"dropwright/bundle/mesh"
)

// smoothLimit is the number of facets from which a mesh is shaded flat: its facets are then about as small as
// the pixels, and finding its neighbours would take longer than drawing it.
const smoothLimit = 300_000

// creaseCos is the cosine of CreaseAngle.
var creaseCos = math.Cos(CreaseAngle * math.Pi / 180)

// cornerNormals are the directions in which the corners of smooth facets look, in the mesh's own frame.
type cornerNormals struct {
	index   []int32         // of a facet into corners; -1 for a flat one
	corners [][3][3]float32 // unit vectors
}

// smooth finds for each corner of each facet the mean of the facets around its vertex that lie within
// CreaseAngle of it, weighted by their angles there: with areas for weights, the diagonal of a rectangle
// would pull the normal of a cylinder aside (Thuermer and Wuethrich 1998).
func smooth(m *mesh.Mesh) cornerNormals {
	if len(m.Triangles) > smoothLimit {
		return cornerNormals{}
	}
	out := cornerNormals{index: make([]int32, len(m.Triangles))}
	normals := make([]vec, len(m.Triangles))
	angles := make([]vec, len(m.Triangles))
	start := make([]uint32, len(m.Vertices)+1)
	for i, t := range m.Triangles {
		out.index[i] = -1
		if !sound(m, t) {
			continue
		}
		a, b, c := wide(m.Vertices[t[0]]), wide(m.Vertices[t[1]]), wide(m.Vertices[t[2]])
		u, v, w := sub(b, a), sub(c, b), sub(a, c)
		normals[i] = unit(cross(u, v))
		if normals[i] == (vec{}) {
			continue
		}
		angles[i] = vec{between(u, times(w, -1)), between(v, times(u, -1)), between(w, times(v, -1))}
		for _, k := range t {
			start[k+1]++
		}
	}
	for i := 1; i < len(start); i++ {
		start[i] += start[i-1]
	}
	around := make([]uint32, start[len(start)-1]) // facet*4 + corner
	next := make([]uint32, len(m.Vertices))
	copy(next, start)
	for i, t := range m.Triangles {
		if normals[i] == (vec{}) {
			continue
		}
		for k, v := range t {
			around[next[v]] = uint32(i)<<2 | uint32(k)
			next[v]++
		}
	}
	for i, t := range m.Triangles {
		n := normals[i]
		if n == (vec{}) {
			continue
		}
		var corner [3][3]float32
		curved := false
		for k, v := range t {
			sum := vec{}
			for _, e := range around[start[v]:start[v+1]] {
				if o := normals[e>>2]; dot(n, o) > creaseCos {
					sum = add(sum, times(o, angles[e>>2][e&3]))
				}
			}
			sum = unit(sum)
			// A ten-thousandth off is rounding, not a curve.
			curved = curved || dot(sum, n) < 1-1e-6
			corner[k] = [3]float32{float32(sum[0]), float32(sum[1]), float32(sum[2])}
		}
		if curved {
			out.index[i] = int32(len(out.corners))
			out.corners = append(out.corners, corner)
		}
	}
	return out
}

// sound reports whether a facet names three finite vertices that exist.
func sound(m *mesh.Mesh, t [3]uint32) bool {
	n := uint32(len(m.Vertices))
	return t[0] < n && t[1] < n && t[2] < n && finite(m.Vertices[t[0]]) && finite(m.Vertices[t[1]]) && finite(m.Vertices[t[2]])
}

// between is the angle between two vectors, radians.
func between(a, b vec) float64 { return math.Atan2(length(cross(a, b)), dot(a, b)) }
