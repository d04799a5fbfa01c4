package bundle_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"dropwright/bundle"
	"dropwright/bundle/board"
	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/bundle/measure"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
	"dropwright/examples"
	"dropwright/series/catalogue"
)

// made lays a design of given files into the demo's series and packs its only variant. It gives the files below the top
// folder of the bundle.
func made(t *testing.T, manifest string, meshes map[string]*mesh.Mesh, more map[string]string) (map[string][]byte, error) {
	t.Helper()
	house, err := fs.ReadFile(examples.Season, "series.yaml")
	if err != nil {
		t.Fatal(err)
	}
	const dir = "designs/shelf-clock/"
	fsys := fstest.MapFS{"series.yaml": {Data: house}, dir + "design.yaml": {Data: []byte(manifest)}}
	for name, m := range meshes {
		var b bytes.Buffer
		if err := stl.Write(&b, m); err != nil {
			t.Fatal(err)
		}
		fsys[dir+name] = &fstest.MapFile{Data: b.Bytes()}
	}
	for name, text := range more {
		fsys[dir+name] = &fstest.MapFile{Data: []byte(text)}
	}
	s, err := catalogue.Open(fsys, "season", board.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	e, err := s.Load("shelf-clock")
	if err != nil || e.Design == nil {
		t.Fatalf("%v %v", err, e.Findings)
	}
	w, err := bundle.Examine(bundle.Source{FS: e.FS, Manifest: e.Manifest, Design: e.Design, House: &s.Config.House}, check.Past{}, "",
		measure.Options{Topics: measure.Topics{Estimate: true}})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if _, err := w.Pack(context.Background(), &b, bundle.PackOptions{Variant: design.Plain, Audience: "public"}); err != nil {
		return nil, err
	}
	return files(t, b.Bytes()), nil
}

const framed = `title: Shelf Clock
summary: Two parts that share one frame.
changes: [{revision: 1.0.0, date: 2027-01-05, text: first release}]
colours: {body: clay, front: straw}
FRAME
parts:
  - {name: base, colour: body, mesh: meshes/base.stl}
  - {name: face, colour: front, mesh: meshes/face.stl, copies: COPIES}
`

// TestAssemblyShared: where the meshes share one frame, the bundle holds the assembly as it was drawn: each part with its
// name, filament and volume, moved together so that the lowest corner lies at the origin. lib3mf reads the same.
func TestAssemblyShared(t *testing.T) {
	meshes := map[string]*mesh.Mesh{
		"meshes/base.stl": mesh.Transform(mesh.Box(40, 30, 8), mesh.Shift(-100, 50, 20)),
		// A wedge behind the base, so that a turned or mirrored one would be noticed.
		"meshes/face.stl": mesh.Transform(&mesh.Mesh{Vertices: [][3]float32{{0, 0, 0}, {30, 0, 0}, {0, 20, 0}, {0, 0, 10}},
			Triangles: [][3]uint32{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}}}, mesh.Shift(-95, 52, 28)),
	}
	manifest := strings.NewReplacer("FRAME", "frame: assembled", "COPIES", "1").Replace(framed)
	got, err := made(t, manifest, meshes, nil)
	if err != nil {
		t.Fatal(err)
	}
	body := got["models/assembly.3mf"]
	if body == nil {
		t.Fatal("there is no assembly")
	}
	// By hand: the lowest corner is that of the base, at -100, 50, 20. Colours are those of the demo's series.yaml.
	want := []modelItem{
		{name: "base", material: "clay", colour: "#8a5a44ff", volume: 40 * 30 * 8, box: [6]float64{0, 0, 0, 40, 30, 8}},
		{name: "face", material: "straw", colour: "#e3cf8aff", volume: 30 * 20 * 10 / 6., box: [6]float64{5, 2, 8, 35, 22, 18}},
	}
	same := func(who string, list []modelItem) {
		if len(list) != len(want) {
			t.Fatalf("%s: %d items", who, len(list))
		}
		for i := range want {
			if err := list[i].alike(want[i]); err != nil {
				t.Errorf("%s: %v", who, err)
			}
		}
	}
	same("ours", ourItems(t, body))
	ok, theirs := lib3mfItems(t, lib3mfProgram(t), body)
	if !ok {
		t.Error("lib3mf has an error or a warning")
	}
	same("lib3mf", theirs)
	if !bytes.Contains(got["README.txt"], []byte("models/assembly.3mf")) {
		t.Error("README.txt does not name it")
	}

	// As printed, or with a second copy that has no place, nobody knows the assembly: none is better than a wrong one.
	for _, c := range [][2]string{{"frame: as-printed", "1"}, {"", "1"}} {
		got, err := made(t, strings.NewReplacer("FRAME", c[0], "COPIES", c[1]).Replace(framed), meshes, nil)
		if err != nil {
			t.Fatal(err)
		}
		if got["models/assembly.3mf"] != nil {
			t.Errorf("%q: there is an assembly", c)
		}
	}
}

// TestAssemblyPlaced: in the season's bundles parts lie where `place` puts them, worked out here by hand: the lid of the
// light plate is turned by 180 degrees about x, (x, y, z) to (x, -y, -z), and moved by (0, 54, 26.5).
func TestAssemblyPlaced(t *testing.T) {
	got := files(t, season(t)["light-plate-1.0.0-ce-public.zip"])
	list := ourItems(t, got["models/assembly.3mf"])
	i := slices.IndexFunc(list, func(x modelItem) bool { return x.name == "lid" })
	k := slices.IndexFunc(list, func(x modelItem) bool { return x.name == "box" })
	if len(list) != 2 || i < 0 || k < 0 {
		t.Fatalf("items: %+v", list)
	}
	low, high := box(meshOf(t, got, "lid"))
	blow, bhigh := box(meshOf(t, got, "box"))
	lid := [6]float64{float64(low[0]), 54 - float64(high[1]), 26.5 - float64(high[2]), float64(high[0]), 54 - float64(low[1]), 26.5 - float64(low[2])}
	base := [6]float64{float64(blow[0]), float64(blow[1]), float64(blow[2]), float64(bhigh[0]), float64(bhigh[1]), float64(bhigh[2])}
	for c := range 3 {
		least := math.Min(lid[c], base[c])
		lid[c], lid[3+c], base[c], base[3+c] = lid[c]-least, lid[3+c]-least, base[c]-least, base[3+c]-least
	}
	for _, x := range []struct {
		item modelItem
		want [6]float64
	}{{list[i], lid}, {list[k], base}} {
		y := x.item
		y.box = x.want
		if err := x.item.alike(y); err != nil {
			t.Error(err)
		}
	}
}

// TestReportsStay: what builders reported lies beside the design and goes into no bundle. A manifest that names it is not
// packed.
func TestReportsStay(t *testing.T) {
	meshes := map[string]*mesh.Mesh{"meshes/base.stl": mesh.Box(40, 30, 8), "meshes/face.stl": mesh.Box(10, 10, 10)}
	const canary = "the lid of Jo Sample cracked"
	more := map[string]string{"reports.jsonl": fmt.Sprintf("{\"text\": %q}\n", canary)}
	manifest := strings.NewReplacer("FRAME", "", "COPIES", "1").Replace(framed)
	got, err := made(t, manifest, meshes, more)
	if err != nil {
		t.Fatal(err)
	}
	for name, body := range got {
		if strings.Contains(name, "report") || bytes.Contains(body, []byte(canary)) || bytes.Contains(body, []byte("reports.jsonl")) {
			t.Errorf("%s holds what was reported, or names it", name)
		}
	}
	for _, name := range []string{"reports.jsonl", "Reports.jsonl", "old/reports.jsonl"} {
		got, err := made(t, manifest+"extras: [{file: "+name+"}]\n", meshes, map[string]string{name: more["reports.jsonl"]})
		if private := (*bundle.PrivateError)(nil); !errors.As(err, &private) {
			t.Errorf("%s was packed: %v, %v", name, err, slices.Sorted(maps.Keys(got)))
		}
	}
}
