package bundle_test

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"io"
	"io/fs"
	"math"
	"path"
	"strings"
	"sync"
	"testing"

	"dropwright/bundle"
	"dropwright/bundle/archive"
	"dropwright/bundle/board"
	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/bundle/measure"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
	"dropwright/bundle/mesh/threemf"
	"dropwright/examples"
	"dropwright/series/catalogue"
)

// packedSeason is every bundle of the demo season, packed once for all tests.
var packedSeason = sync.OnceValues(func() (map[string][]byte, error) {
	s, err := catalogue.Open(examples.Season, "season", board.Builtin())
	if err != nil {
		return nil, err
	}
	out := map[string][]byte{}
	for _, name := range s.Names {
		w, err := examined(s, name)
		if err != nil {
			return nil, err
		}
		for _, audience := range []design.Audience{"early", "public"} {
			for _, v := range w.Design.VariantNames() {
				var b bytes.Buffer
				p, err := w.Pack(context.Background(), &b, bundle.PackOptions{Variant: v, Audience: audience, Licence: licences(examples.Season)})
				if err != nil {
					return nil, fmt.Errorf("%s %s %s: %w", name, v, audience, err)
				}
				if len(p.Unread) > 0 || len(p.Left) > 0 {
					return nil, fmt.Errorf("%s: unread %q, left %q", p.Name, p.Unread, p.Left)
				}
				out[p.Name] = b.Bytes()
			}
		}
	}
	return out, nil
})

func examined(s *catalogue.Series, name string) (*bundle.Work, error) {
	e, err := s.Load(name)
	if err != nil {
		return nil, err
	}
	return bundle.Examine(bundle.Source{FS: e.FS, Manifest: e.Manifest, Design: e.Design, House: &s.Config.House}, check.Past{}, "",
		measure.Options{Topics: measure.Topics{Estimate: true}})
}

func licences(fsys fs.FS) func(string) ([]byte, bool) {
	return func(id string) ([]byte, bool) {
		data, err := fs.ReadFile(fsys, "LICENSES/"+id+".txt")
		return data, err == nil
	}
}

func season(t *testing.T) map[string][]byte {
	t.Helper()
	if testing.Short() {
		t.Skip("packs the whole season")
	}
	all, err := packedSeason()
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// files unpacks a bundle, by path below its top folder.
func files(t *testing.T, data []byte) map[string][]byte {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range r.File {
		rc, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(rc)
		if err != nil {
			t.Fatal(err)
		}
		_, rest, _ := strings.Cut(f.Name, "/")
		out[rest] = body
	}
	return out
}

// TestSeasonBundles: every bundle is whole, holds every kind of file, and the early one alone says that it is
// early.
func TestSeasonBundles(t *testing.T) {
	for name, data := range season(t) {
		rep, err := archive.Verify(context.Background(), bytes.NewReader(data), int64(len(data)))
		if err != nil || len(rep.Problems) > 0 {
			t.Errorf("%s: %v %v", name, err, rep.Problems)
		}
		got := files(t, data)
		for _, want := range []string{"README.txt", "CHANGES.txt", "LICENCE.txt", "VERIFY.txt", "bom.csv", "bundle.json", "sheet.html", "sheet.pdf", "SHA256SUMS"} {
			if len(got[want]) == 0 {
				t.Errorf("%s has no %s", name, want)
			}
		}
		early := strings.HasSuffix(name, "-early.zip")
		if _, has := got["EARLY.txt"]; has != early {
			t.Errorf("%s: EARLY.txt is there: %v", name, has)
		}
		if _, has := got["LICENSES/LicenseRef-Early-Access.txt"]; has != early {
			t.Errorf("%s: the early licence's text is there: %v", name, has)
		}
		if !bytes.HasPrefix(got["sheet.pdf"], []byte("%PDF-")) {
			t.Errorf("%s: sheet.pdf is no PDF", name)
		}
	}
}

// TestModelsLieOnTheBed: in each 3MF of a colour every copy lies within the bed, on it, apart from every other
// one, and is the mesh of the same name: same volume, same number of triangles.
func TestModelsLieOnTheBed(t *testing.T) {
	size := map[string][2]float64{"bench": {220, 220}}
	seen := 0
	for name, data := range season(t) {
		got := files(t, data)
		copies := map[string]int{}
		for file, body := range got {
			if !strings.HasSuffix(file, ".model.3mf") {
				continue
			}
			seen++
			m, err := threemf.Decode(bytes.NewReader(body), int64(len(body)))
			if err != nil {
				t.Fatalf("%s: %s: %v", name, file, err)
			}
			if len(m.Warnings) > 0 || m.Unit != "millimeter" {
				t.Errorf("%s: %s: %q, unit %s", name, file, m.Warnings, m.Unit)
			}
			colour, _, _ := strings.Cut(strings.TrimSuffix(path.Base(file), ".model.3mf"), "-")
			var boxes [][2][3]float32
			for _, s := range m.Items() {
				copies[s.Name]++
				if len(s.Materials) != 1 || s.Materials[0].Name != colour {
					t.Errorf("%s: %s: %s is in %v, want %s", name, file, s.Name, s.Materials, colour)
				}
				lo, hi := box(s.Mesh)
				for c := range 2 {
					if lo[c] < 5-1e-3 || float64(hi[c]) > size["bench"][c]-5+1e-3 {
						t.Errorf("%s: %s: %s reaches from %v to %v", name, file, s.Name, lo, hi)
					}
				}
				if math.Abs(float64(lo[2])) > 1e-4 {
					t.Errorf("%s: %s: %s stands at z = %v", name, file, s.Name, lo[2])
				}
				for _, b := range boxes {
					if lo[0] < b[1][0] && b[0][0] < hi[0] && lo[1] < b[1][1] && b[0][1] < hi[1] {
						t.Errorf("%s: %s: %s overlaps another part", name, file, s.Name)
					}
				}
				boxes = append(boxes, [2][3]float32{lo, hi})
				alone := meshOf(t, got, s.Name)
				if a, b := volume(alone), volume(s.Mesh); math.Abs(a-b) > 1e-5*math.Abs(a) || len(alone.Triangles) != len(s.Mesh.Triangles) {
					t.Errorf("%s: %s: %s has %v mm3, its STL %v", name, file, s.Name, b, a)
				}
			}
		}
		for file := range got {
			part, n, ok := meshName(file)
			if ok && copies[part] != n {
				t.Errorf("%s: %d of %s on the beds, its name says %d", name, copies[part], part, n)
			}
		}
	}
	if seen < 10 {
		t.Errorf("only %d models seen", seen)
	}
}

// meshName takes meshes/NAME_2x_COLOUR.stl apart.
func meshName(file string) (part string, n int, ok bool) {
	rest, ok := strings.CutPrefix(file, "meshes/")
	if !ok {
		return "", 0, false
	}
	words := strings.Split(rest, "_")
	_, err := fmt.Sscanf(words[1], "%dx", &n)
	return words[0], n, err == nil
}

func meshOf(t *testing.T, all map[string][]byte, part string) *mesh.Mesh {
	t.Helper()
	for file, body := range all {
		if p, _, ok := meshName(file); ok && p == part {
			m, _, err := stl.Decode(body)
			if err != nil {
				t.Fatal(err)
			}
			return m
		}
	}
	t.Fatalf("no mesh of %s", part)
	return nil
}

func volume(m *mesh.Mesh) float64 {
	r, _ := mesh.Inspect(mesh.Merge(m))
	if r.Volume == nil {
		return math.NaN()
	}
	return *r.Volume
}

func box(m *mesh.Mesh) (lo, hi [3]float32) {
	lo, hi = m.Vertices[m.Triangles[0][0]], m.Vertices[m.Triangles[0][0]]
	for _, tri := range m.Triangles {
		for _, i := range tri {
			for c, x := range m.Vertices[i] {
				lo[c], hi[c] = min(lo[c], x), max(hi[c], x)
			}
		}
	}
	return lo, hi
}

// TestPackTwice: the same content gives the same bytes, whatever the number of workers.
func TestPackTwice(t *testing.T) {
	all := season(t)
	s, err := catalogue.Open(examples.Season, "elsewhere", board.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	w, err := examined(s, "soil-stake")
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if _, err := w.Pack(context.Background(), &b, bundle.PackOptions{Variant: design.Plain, Audience: "public", Licence: licences(examples.Season)}); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(b.Bytes(), all["soil-stake-1.0.0-public.zip"]) {
		t.Error("packed twice, other bytes")
	}
}
