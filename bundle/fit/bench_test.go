package fit

import "testing"

// BenchmarkShapeOf is the whole measuring of one part for its joints: census and walls.
func BenchmarkShapeOf(b *testing.B) {
	for _, file := range []string{"vent-minder/meshes/case-stack.stl", "rain-tipper/meshes/hood.stl", "seed-dryer/meshes/box.stl"} {
		m := meshOf(b, file)
		b.Run(file, func(b *testing.B) {
			for b.Loop() {
				if _, err := ShapeOf(m); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkPiece cuts a test piece out of the largest part.
func BenchmarkPiece(b *testing.B) {
	m := meshOf(b, "vent-minder/meshes/case-stack.stl")
	for b.Loop() {
		if _, err := Piece(m, [3]float64{-15, -5, 20}, [3]float64{0, 12, 40}); err != nil {
			b.Fatal(err)
		}
	}
}
