package threemf

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// million is a package of a million triangles: the torus R 60, r 20 of 1000 x 500.
func million(b *testing.B) []byte {
	return written(b, Package{Date: noon, Objects: []Placed{{Name: "torus", Material: -1, Mesh: torus(60, 20, 1000, 500)}}})
}

func BenchmarkDecode1M(b *testing.B) {
	data := million(b)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := decode(data); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkInflate1M is the floor: unpacking alone.
func BenchmarkInflate1M(b *testing.B) {
	data := million(b)
	for b.Loop() {
		p, err := openPackage(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			b.Fatal(err)
		}
		r, _, err := p.open("/3d/3dmodel.model")
		if err != nil {
			b.Fatal(err)
		}
		if _, err := io.Copy(io.Discard, r); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkLib3mf1M is lib3mf reading the same file, start of the process included (some 10 ms).
func BenchmarkLib3mf1M(b *testing.B) {
	program := lib3mf(b)
	file := filepath.Join(b.TempDir(), "torus.3mf")
	if err := os.WriteFile(file, million(b), 0o600); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if out, err := exec.Command(program, "-r", file).CombinedOutput(); err != nil {
			b.Fatalf("%v: %s", err, out)
		}
	}
}

func BenchmarkWrite1M(b *testing.B) {
	p := Package{Date: noon, Objects: []Placed{{Name: "torus", Material: -1, Mesh: torus(60, 20, 1000, 500)}}}
	for b.Loop() {
		if err := Write(io.Discard, p); err != nil {
			b.Fatal(err)
		}
	}
}
