package threemf

import (
	"runtime"
	"testing"
)

// FuzzDecode: no panic, no hang, no allocation out of proportion, whatever the bytes are; and what is
// read is consistent. The seeds are good and bad packages, stored so that the model text can be changed.
func FuzzDecode(f *testing.F) {
	f.Add(pack(f, cube))
	f.Add(written(f, plate()))
	f.Add(storedPackage(f, cube))
	f.Add(storedPackage(f, doubling(12)))
	for _, c := range refusedModels {
		if len(c.model) < 1<<16 {
			f.Add(storedPackage(f, c.model))
		}
	}
	for _, c := range refusedPackages(f) {
		if len(c.data) < 1<<16 {
			f.Add(c.data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		m, err := decode(data)
		runtime.ReadMemStats(&after)
		// The zip may unpack to 200 times its size or, where it is small, to 1 MiB an entry.
		if got, limit := after.TotalAlloc-before.TotalAlloc, uint64(64<<20+3*maxRatio*len(data)); got > limit {
			t.Fatalf("%d bytes allocated for %d bytes", got, len(data))
		}
		if err != nil {
			if m != nil {
				t.Fatal("an error and a model")
			}
			return
		}
		consistent(t, m)
	})
}

// FuzzModel is FuzzDecode on the text of the model part alone.
func FuzzModel(f *testing.F) {
	f.Add(cube)
	f.Add(doubling(12))
	for _, c := range refusedModels {
		if len(c.model) < 1<<16 {
			f.Add(c.model)
		}
	}
	f.Fuzz(func(t *testing.T, model string) {
		if m, err := decode(storedPackage(t, model)); err == nil {
			consistent(t, m)
		}
	})
}

func consistent(t *testing.T, m *Model) {
	t.Helper()
	all := m.Mesh()
	for _, tri := range all.Triangles {
		for _, v := range tri {
			if int(v) >= len(all.Vertices) {
				t.Fatal("an index outside the vertices")
			}
		}
	}
	if len(m.Items()) != len(m.Build) {
		t.Fatal("items and build differ")
	}
}
