package mesh

import (
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"
)

// loose is a soup of the given triangles, dense.
func loose(ts ...[3][3]float32) Soup {
	var data []byte
	for _, t := range ts {
		for _, p := range t {
			for _, v := range p {
				data = binary.LittleEndian.AppendUint32(data, math.Float32bits(v))
			}
		}
	}
	return Soup{Data: data, Stride: 36}
}

func TestWeldOrderAndZero(t *testing.T) {
	minus := float32(math.Copysign(0, -1))
	m, err := Weld(loose(
		[3][3]float32{{5, 0, 0}, {minus, 0, 0}, {0, 3, minus}},
		[3][3]float32{{0, 3, 0}, {0, minus, 0}, {7, 7, 7}},
	))
	if err != nil {
		t.Fatal(err)
	}
	want := &Mesh{
		Vertices:  [][3]float32{{5, 0, 0}, {0, 0, 0}, {0, 3, 0}, {7, 7, 7}},
		Triangles: [][3]uint32{{0, 1, 2}, {2, 1, 3}},
	}
	if !reflect.DeepEqual(m, want) {
		t.Errorf("got %+v, want %+v", m, want)
	}
	for _, v := range m.Vertices {
		for _, x := range v {
			if x == 0 && math.Signbit(float64(x)) {
				t.Error("a negative zero survived")
			}
		}
	}
}

// A map is the independent way to weld.
func TestWeldAgainstMap(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	for _, kinds := range []int{1, 3, 100, 5000, 1 << 30} { // from all corners alike to all different
		var ts [][3][3]float32
		for range 20000 {
			var tri [3][3]float32
			for c := range tri {
				k := r.IntN(kinds)
				tri[c] = [3]float32{float32(k % 17), float32(k / 17), float32(k) * 0.25}
			}
			ts = append(ts, tri)
		}
		m, err := Weld(loose(ts...))
		if err != nil {
			t.Fatal(err)
		}
		ids := map[[3]float32]uint32{}
		for i, tri := range ts {
			for c, p := range tri {
				id, ok := ids[p]
				if !ok {
					id = uint32(len(ids))
					ids[p] = id
				}
				if m.Triangles[i][c] != id || m.Vertices[id] != p {
					t.Fatalf("%d kinds, triangle %d corner %d: vertex %d, want %d", kinds, i, c, m.Triangles[i][c], id)
				}
			}
		}
		if len(ids) != len(m.Vertices) {
			t.Errorf("%d vertices, want %d", len(m.Vertices), len(ids))
		}
	}
}

func TestNotFinite(t *testing.T) {
	nan, inf := float32(math.NaN()), float32(math.Inf(-1))
	ones := math.Float32frombits(math.MaxUint32)
	good := [3][3]float32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}
	for _, c := range []struct {
		tri  [3][3]float32
		want NotFiniteError
	}{
		{[3][3]float32{{0, 0, 0}, {1, nan, 0}, {0, 1, 0}}, NotFiniteError{Triangle: 1, Corner: 1, Axis: 1}},
		{[3][3]float32{{0, 0, 0}, {1, 0, 0}, {0, 1, inf}}, NotFiniteError{Triangle: 1, Corner: 2, Axis: 2, Value: inf}},
		{[3][3]float32{{ones, 0, 0}, {ones, 0, 0}, {ones, 0, 0}}, NotFiniteError{Triangle: 1}},
		{[3][3]float32{{inf, inf, inf}, {inf, 0, 0}, {inf, 1, 0}}, NotFiniteError{Triangle: 1, Value: inf}},
	} {
		s := loose(good, c.tri, c.tri)
		_, err := Weld(s)
		_, _, err2 := Survey(s, nil)
		for _, err := range []error{err, err2} {
			var got *NotFiniteError
			if !errors.As(err, &got) || got.Triangle != c.want.Triangle || got.Corner != c.want.Corner || got.Axis != c.want.Axis {
				t.Errorf("error %v, want that of %+v", err, c.want)
			}
		}
	}
	// The largest numbers are numbers.
	big := float32(math.MaxFloat32)
	if _, _, err := Survey(loose([3][3]float32{{big, big, big}, {-big, big, -big}, {big, -big, -big}}), nil); err != nil {
		t.Error(err)
	}
}

func TestTolerantWeld(t *testing.T) {
	torus := Torus(30, 10, 120, 60)
	for _, c := range []struct {
		name   string
		m      *Mesh
		within float64
		closed bool
	}{
		{"exact", torus, 0, true},
		{"noise of 1e-6", noisy(torus, 1e-6, 1), 8e-5, true},
		{"noise of 1e-5", noisy(torus, 1e-5, 2), 8e-5, true},
		{"noise of 1e-4", noisy(torus, 1e-4, 3), 8e-4, true},
		{"noise of 0.5", noisy(torus, 0.5, 4), 0, false},
		{"a triangle missing", &Mesh{torus.Vertices, torus.Triangles[1:]}, 0, false},
	} {
		r, m := Inspect(Merge(c.m))
		if r.Watertight != c.closed || math.Abs(r.WeldedWithin-c.within) > 1e-6 {
			t.Errorf("%s: watertight %v within %v, want %v within %v (%d open)", c.name, r.Watertight, r.WeldedWithin, c.closed, c.within, r.Open)
		}
		if (r.WeldedWithin > 0) != (r.Exact.Open > r.Open) {
			t.Errorf("%s: exact %+v, used %+v", c.name, r.Exact, r.EdgeCounts)
		}
		if c.closed && (r.Vertices != 7200 || len(m.Vertices) != 7200 || r.Shells != 1) {
			t.Errorf("%s: %d vertices, %d shells", c.name, r.Vertices, r.Shells)
		}
		if c.closed && math.Abs(*r.Volume-59082.448461) > 1 {
			t.Errorf("%s: volume %v", c.name, *r.Volume)
		}
	}
}

// Fine detail stays where the surface is closed: only vertices of open edges are moved.
func TestTolerantWeldSparesDetail(t *testing.T) {
	fine := Transform(Box(0.001, 0.001, 0.001), Shift(50, 50, 0))
	r, m := Inspect(Merge(Join(noisy(Torus(30, 10, 120, 60), 1e-5, 2), fine)))
	if !r.Watertight || r.Shells != 2 || len(m.Vertices) != 7200+8 {
		t.Errorf("%d shells, %d vertices, %+v", r.Shells, len(m.Vertices), r.EdgeCounts)
	}
}

func TestMapping(t *testing.T) {
	name := filepath.Join(t.TempDir(), "part.stl")
	content := make([]byte, 100_000)
	content[99_999] = 7
	if err := os.WriteFile(name, content, 0o666); err != nil {
		t.Fatal(err)
	}
	f, err := os.OpenFile(name, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	m, err := Map(f)
	if err != nil {
		t.Fatal(err)
	}
	defer m.Close()
	if len(m.Bytes) != len(content) || m.Bytes[99_999] != 7 {
		t.Error("the bytes are not the file's")
	}
	if err := m.Unchanged(); err != nil {
		t.Error(err)
	}
	if err := f.Truncate(10); err != nil {
		t.Fatal(err)
	}
	if m.Unchanged() == nil {
		t.Error("a file cut short counts as unchanged")
	}
	if !m.mapped {
		return
	}
	sum := byte(0)
	err = Guard(func() error {
		for _, b := range m.Bytes {
			sum += b
		}
		return nil
	})
	var fault *FaultError
	if !errors.As(err, &fault) {
		t.Errorf("reading behind the end of the file: %v (sum %d)", err, sum)
	}
	// Both goroutines of a survey meet the fault.
	if _, _, err := Survey(Soup{Data: m.Bytes, Stride: 50, Offset: 12}, nil); !errors.As(err, &fault) {
		t.Errorf("survey: %v", err)
	}
}

func TestMapRefuses(t *testing.T) {
	dir, err := os.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer dir.Close()
	if _, err := Map(dir); err == nil {
		t.Error("a folder was mapped")
	}
	empty, err := os.Create(filepath.Join(t.TempDir(), "empty"))
	if err != nil {
		t.Fatal(err)
	}
	defer empty.Close()
	m, err := Map(empty)
	if err != nil || len(m.Bytes) != 0 {
		t.Errorf("empty file: %v, %v", m, err)
	}
}

func TestGuardLetsOtherPanicsThrough(t *testing.T) {
	defer func() {
		if recover() != "mine" {
			t.Error("another panic was swallowed")
		}
	}()
	_ = Guard(func() error { panic("mine") })
}
