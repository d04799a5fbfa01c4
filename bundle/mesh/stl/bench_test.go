package stl

import (
	"crypto/sha256"
	"testing"

	"dropwright/bundle/mesh"
)

// A quarter of a million triangles in either form: what reading and what measuring costs, and the hash
// alone, below which nothing can go.
func benchmarkForms(b *testing.B, run func(data []byte) error) {
	m := mesh.Torus(60, 20, 500, 250)
	for name, data := range map[string][]byte{"binary": binaryOf(b, m), "ascii": asciiOf(b, m)} {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(data)))
			b.ReportAllocs()
			for b.Loop() {
				if err := run(data); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkDecode(b *testing.B) {
	benchmarkForms(b, func(data []byte) error { _, _, err := Decode(data); return err })
}

func BenchmarkSurvey(b *testing.B) {
	benchmarkForms(b, func(data []byte) error { _, err := Survey(data); return err })
}

func BenchmarkHash(b *testing.B) {
	benchmarkForms(b, func(data []byte) error { sha256.Sum256(data); return nil })
}

func BenchmarkWrite(b *testing.B) {
	m := mesh.Torus(60, 20, 500, 250)
	for b.Loop() {
		binaryOf(b, m)
	}
}
