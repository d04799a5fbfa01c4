package adopt_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"dropwright/bundle/adopt"
	"dropwright/bundle/design"
)

// BenchmarkFolder adopts 500 files of 300 MB in all: 416 meshes, among them 56 of 5 to 6 MB, older states, 60
// pictures, lists and texts. What it must: under 15 s, progress and all.
func BenchmarkFolder(b *testing.B) {
	dir := largeFolder(b)
	b.ResetTimer()
	for range b.N {
		told := 0
		d, err := adopt.Read(os.DirFS(dir), adopt.Options{Name: "large", Date: design.Date{Year: 2027, Month: 1, Day: 5}, Progress: func(done, total int, file string) { told++ }})
		if err != nil {
			b.Fatal(err)
		}
		if told < 300 || len(d.Manifest) < 10_000 {
			b.Fatalf("%d meshes told, a manifest of %d bytes", told, len(d.Manifest))
		}
	}
}

// largeFolder lays the folder out.
func largeFolder(t testing.TB) string {
	t.Helper()
	dir := t.TempDir()
	sum, files := 0, 0
	put := func(name string, data []byte) {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, data, 0o666); err != nil {
			t.Fatal(err)
		}
		sum += len(data)
		files++
	}
	small := []string{"arm", "cheek-left", "window-ce"}
	for i := range 340 {
		s := readSTL(t, demoMesh(t, "vent-minder", small[i%3]))
		k := 1 + float64(i)/500
		put(fmt.Sprintf("meshes/set%d/part%03d.stl", i%10, i), s.each(func(p point) point { return point{p[0] * k, p[1], p[2]} }).stl())
	}
	for i := range 20 {
		put(fmt.Sprintf("meshes/old/part%03d.stl", i), demoMesh(t, "vent-minder", "arm"))
	}
	list := "File;Qty;Colour\n"
	for i := range 56 { // ten sculpted ones and 46 finely meshed enclosures of 90,000 to 120,000 facets, 5 to 6 MB
		s := ball(60+float64(i), 350)
		if i%6 != 0 {
			k := 1 + float64(i)/100
			s = finer(finer(readSTL(t, demoMesh(t, "vent-minder", "case-ce")))).each(func(p point) point { return point{p[0] * k, p[1], p[2]} })
		}
		put(fmt.Sprintf("meshes/knob%02d.stl", i), s.stl())
		list += fmt.Sprintf("knob%02d.stl;%d;red\n", i, 1+i%4)
	}
	for i := range 60 {
		put(fmt.Sprintf("photos/img%03d.jpg", i), picture(t, 640, 480))
	}
	put("parts.csv", []byte(list))
	for i := range 22 {
		put(fmt.Sprintf("docs/page%02d.md", i), []byte("# Page\n\nUse 4x M3x8 and the arm.\n\n| Item | Qty |\n|---|---|\n| M3x8 | 4 |\n"))
	}
	put("README.md", []byte("# Large\n\nA large thing.\n"))
	t.Logf("%d files, %.0f MB", files, float64(sum)/1e6)
	return dir
}

// finer splits each facet into four.
func finer(s solid) solid {
	mid := func(a, b point) point { return point{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2} }
	var out solid
	for _, f := range s {
		a, b, c := mid(f[0], f[1]), mid(f[1], f[2]), mid(f[2], f[0])
		out = append(out, facet{f[0], a, c}, facet{a, f[1], b}, facet{c, b, f[2]}, facet{a, b, c})
	}
	return out
}

// ball is a sphere through rings of n corners, mm.
func ball(radius float64, n int) solid {
	at := func(i, j int) point {
		a, b := math.Pi*float64(i)/float64(n/2), 2*math.Pi*float64(j%n)/float64(n)
		if i == 0 || i == n/2 {
			b = 0
		}
		return point{radius * math.Sin(a) * math.Cos(b), radius * math.Sin(a) * math.Sin(b), radius * math.Cos(a)}
	}
	var out solid
	for i := range n / 2 {
		for j := range n {
			a, b, c, d := at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)
			if i > 0 {
				out = append(out, facet{a, c, d})
			}
			if i < n/2-1 {
				out = append(out, facet{a, b, c})
			}
		}
	}
	return out
}
