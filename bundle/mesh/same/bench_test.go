package same

import (
	"testing"

	"dropwright/bundle/mesh"
)

func benchmark(b *testing.B, want Kind, a, c *mesh.Mesh) {
	for b.Loop() {
		if r := Compare(a, c, Options{}); r.Kind != want {
			b.Fatalf("%s by %v", r.Kind, r.Deviation)
		}
	}
}

func million() *mesh.Mesh { return mesh.Torus(60, 20, 1000, 500) }

// knobbed is a ring of a million facets with a box on it, so that it has no symmetry.
func knobbed() *mesh.Mesh {
	return mesh.Join(million(), mesh.Transform(mesh.Box(2, 3, 5), mesh.Shift(60, 10, 18)))
}

func BenchmarkShuffled1M(b *testing.B) { benchmark(b, Same, million(), shuffled(million(), 1)) }

func BenchmarkMoved1M(b *testing.B) {
	benchmark(b, Moved, million(), shuffled(mesh.Transform(million(), mesh.Shift(10, 20, 30)), 1))
}

func BenchmarkTurned1M(b *testing.B) {
	benchmark(b, Turned, knobbed(), shuffled(mesh.Transform(knobbed(), turn([3]float64{1, 2, 3}, 50, 1, 2, 3)), 1))
}

func BenchmarkMirrored1M(b *testing.B) {
	benchmark(b, Mirrored, knobbed(), mesh.Transform(knobbed(), mirrorX))
}

func BenchmarkTurnedSymmetric1M(b *testing.B) {
	benchmark(b, Turned, million(), mesh.Transform(million(), turn([3]float64{1, 2, 3}, 50, 1, 2, 3)))
}

func BenchmarkChangedALittle1M(b *testing.B) { benchmark(b, Changed, million(), knobbed()) }

func BenchmarkChangedAllOver1M(b *testing.B) {
	benchmark(b, Changed, million(), mesh.Torus(60, 20.2, 1000, 500))
}

func BenchmarkFingerprint1M(b *testing.B) {
	m := million()
	for b.Loop() {
		Fingerprint(m)
	}
}
