package mesh

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"
)

// soupOf writes m as a binary STL body: 50 bytes a facet.
func soupOf(m *Mesh) Soup {
	const stride, offset = 50, 12
	data := make([]byte, len(m.Triangles)*stride)
	for i, t := range m.Triangles {
		b := data[i*stride+offset:]
		for k, id := range t {
			for a, v := range m.Vertices[id] {
				binary.LittleEndian.PutUint32(b[12*k+4*a:], math.Float32bits(v))
			}
		}
	}
	return Soup{Data: data, Stride: stride, Offset: offset}
}

// shuffled is m with its triangles in a random but fixed order.
func shuffled(m *Mesh, seed uint64) *Mesh {
	out := &Mesh{Vertices: m.Vertices, Triangles: append([][3]uint32(nil), m.Triangles...)}
	rand.New(rand.NewPCG(seed, 1)).Shuffle(len(out.Triangles), func(i, j int) {
		out.Triangles[i], out.Triangles[j] = out.Triangles[j], out.Triangles[i]
	})
	return out
}

// The stages of a check of a million triangles, in file order and shuffled.
func benchmarkMillion(b *testing.B, run func(b *testing.B, s Soup, m *Mesh)) {
	torus := Torus(60, 20, 1000, 500)
	for _, c := range []struct {
		name string
		m    *Mesh
	}{{"ordered", torus}, {"shuffled", shuffled(torus, 1)}} {
		s := soupOf(c.m)
		m, table, y := weld(s, newBuilder(s.Len(), s.Len()))
		table.free()
		y.degree.free()
		b.Run(c.name, func(b *testing.B) {
			b.SetBytes(int64(len(s.Data)))
			run(b, s, m)
		})
	}
}

func BenchmarkWeld(b *testing.B) {
	benchmarkMillion(b, func(b *testing.B, s Soup, _ *Mesh) {
		for b.Loop() {
			_, table, y := weld(s, newBuilder(s.Len(), s.Len()))
			table.free()
			y.degree.free()
		}
	})
}

func BenchmarkSums(b *testing.B) {
	benchmarkMillion(b, func(b *testing.B, s Soup, _ *Mesh) {
		f := guessFrame(s)
		for b.Loop() {
			t := newTotals()
			t.add(s, 0, s.Len(), 0, f)
		}
	})
}

func BenchmarkEdges(b *testing.B) {
	benchmarkMillion(b, func(b *testing.B, _ Soup, m *Mesh) {
		for b.Loop() {
			c := censusOf(m, tallyOf(m), scratch[uint32]{})
			c.free()
		}
	})
}

func BenchmarkSurvey(b *testing.B) {
	benchmarkMillion(b, func(b *testing.B, s Soup, _ *Mesh) {
		for b.Loop() {
			if _, _, err := Survey(s, nil); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// BenchmarkMend is the worst case of the tolerant weld: every edge open.
func BenchmarkMend(b *testing.B) {
	s := soupOf(Torus(60, 20, 500, 250))
	r := rand.New(rand.NewPCG(1, 1))
	for i := range s.Len() {
		for k := range 9 {
			at := s.Data[i*s.Stride+s.Offset+4*k:]
			v := math.Float32frombits(binary.LittleEndian.Uint32(at)) + float32(r.Float64()*2e-5-1e-5)
			binary.LittleEndian.PutUint32(at, math.Float32bits(v))
		}
	}
	for b.Loop() {
		if _, _, err := Survey(s, nil); err != nil {
			b.Fatal(err)
		}
	}
}
