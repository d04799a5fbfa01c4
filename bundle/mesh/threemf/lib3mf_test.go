package threemf

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// lib3mf compiles the reader of testdata against Debian's lib3mf-dev (1.8.1) and returns its path. It
// skips the test where there is no compiler or library, but fails where the whole suite must run.
func lib3mf(t testing.TB) string {
	t.Helper()
	program := filepath.Join(t.TempDir(), "lib3mf_read")
	out, err := exec.Command("g++", "-O2", "-D__GCC", "-I/usr/include/lib3mf", "-o", program, "testdata/lib3mf_read.cpp", "-l3MF").CombinedOutput()
	if err != nil {
		text := fmt.Sprintf("NOT CHECKED AGAINST lib3mf: needs g++ and lib3mf-dev: %v\n%s", err, out)
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatal(text)
		}
		t.Skip(text)
	}
	return program
}

// verdict is a line of the outside reader.
type verdict struct {
	ok                         bool
	warnings, items, triangles int
	volume                     float64
	box                        [6]float64
	names                      string
}

var verdictLine = regexp.MustCompile(`^\S+ ok warnings=(\d+) items=(\d+) triangles=(\d+) volume=(\S+) box=(\S+) names=(.*)$`)

func judge(t *testing.T, program string, data []byte) verdict {
	t.Helper()
	file := filepath.Join(t.TempDir(), "x.3mf")
	if err := os.WriteFile(file, data, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(program, file).Output()
	if err != nil {
		t.Fatalf("lib3mf: %v", err)
	}
	line := strings.TrimSpace(string(out))
	m := verdictLine.FindStringSubmatch(line)
	if m == nil {
		return verdict{}
	}
	v := verdict{ok: true, names: m[6]}
	v.warnings, _ = strconv.Atoi(m[1])
	v.items, _ = strconv.Atoi(m[2])
	v.triangles, _ = strconv.Atoi(m[3])
	v.volume, _ = strconv.ParseFloat(m[4], 64)
	for i, s := range strings.Split(m[5], ",") {
		v.box[i], _ = strconv.ParseFloat(s, 64)
	}
	return v
}

// agrees compares what lib3mf says with what Decode says of the same bytes.
func agrees(t *testing.T, v verdict, data []byte) {
	t.Helper()
	m := mustDecode(t, data)
	all := m.Mesh()
	var names []string
	for _, s := range m.Items() {
		names = append(names, s.Name)
	}
	// lib3mf holds coordinates and transforms as float32 and does not re-wind what is mirrored.
	const tol = 1e-4
	if v.items != len(m.Build) || v.triangles != len(all.Triangles) || v.names != strings.Join(names, "|") {
		t.Errorf("lib3mf reads %d items, %d triangles, %q; Decode %d, %d, %q", v.items, v.triangles, v.names, len(m.Build), len(all.Triangles), names)
	}
	lo, hi := bounds(all)
	for c := range 3 {
		if !near(v.box[c], float64(lo[c]), tol) || !near(v.box[3+c], float64(hi[c]), tol) {
			t.Errorf("lib3mf's box %v, Decode's %v to %v", v.box, lo, hi)
		}
	}
}

// What we write is read by lib3mf without a warning, and is what we meant.
func TestLib3mfReadsOurs(t *testing.T) {
	program := lib3mf(t)
	data := written(t, plate())
	v := judge(t, program, data)
	if !v.ok || v.warnings != 0 {
		t.Fatalf("lib3mf: %+v, want no error and no warning", v)
	}
	agrees(t, v, data)
	one := volume(torus(20, 5, 24, 12))
	// Four copies, one of them mirrored: lib3mf counts that negative.
	if want := 6000 + 0.2 + 2*one; !near(v.volume, want, 1e-4*want) {
		t.Errorf("lib3mf's volume %v, want %v", v.volume, want)
	}
	single := written(t, Package{Date: noon, Objects: []Placed{{Name: "torus", Material: -1, Mesh: torus(30, 10, 120, 60)}}})
	// Torus R 30, r 10, 120 x 60: 59082.448461 mm3 by the closed form nu sin(2pi/nu) R nv/2 r^2 sin(2pi/nv).
	if v = judge(t, program, single); !v.ok || v.warnings != 0 || !near(v.volume, 59082.448461, 0.06) {
		t.Errorf("torus: %+v", v)
	}
	if got := volume(mustDecode(t, single).Mesh()); !near(got, 59082.448461, 1e-6*59082) {
		t.Errorf("torus: Decode's volume %.6f", got)
	}
}

// The judge must be able to say no: files that are wrong on purpose.
func TestLib3mfRejectsWrong(t *testing.T) {
	program := lib3mf(t)
	for name, data := range map[string][]byte{
		"index":     pack(t, swap(`v1="1"`, `v1="8"`)),
		"no build":  pack(t, modelHead+"<resources/></model>"),
		"cut off":   pack(t, cube[:len(cube)-20]),
		"wrong CRC": bytes.Replace(storedPackage(t, cube), []byte(`x="10"`), []byte(`x="11"`), 1),
	} {
		if v := judge(t, program, data); v.ok && v.warnings == 0 {
			t.Errorf("%s: lib3mf finds nothing wrong", name)
		}
		if _, err := decode(data); err == nil {
			t.Errorf("%s: Decode finds nothing wrong", name)
		}
	}
}

// Transforms, components and numbers mean to us what they mean to lib3mf.
func TestLib3mfAgrees(t *testing.T) {
	program := lib3mf(t)
	resources := `<object id="1" name="brick">` + meshXML(box(10, 20, 30)) + `</object>` +
		`<object id="2" name="pair"><components><component objectid="1" transform="0.8 0.6 0 -0.6 0.8 0 0 0 1.5 5 -3 2"/><component objectid="1" transform="1 0 0 0 0 1 0 -1 0 -40 0 0.5"/></components></object>` +
		`<object id="3" name="tower"><components><component objectid="2" transform="1 0 0 0 1 0 0 0 1 0 0 100"/><component objectid="1"/></components></object>`
	for name, build := range map[string]string{
		"nested":  `<item objectid="3" transform="0 1 0 -1 0 0 0 0 1 100 7 0"/><item objectid="2"/>`,
		"plain":   `<item objectid="1"/>`,
		"sheared": `<item objectid="2" transform="1 0.5 0 0 2 0 0.25 0 1 1e1 -2.5e-1 .5"/>`,
	} {
		t.Run(name, func(t *testing.T) {
			data := pack(t, strings.Replace(simple(resources, build), ` xmlns:m="`+uriMaterial+`" xmlns:p="`+uriProduction+`"`, "", 1))
			v := judge(t, program, data)
			if !v.ok {
				t.Fatal("lib3mf does not read it")
			}
			agrees(t, v, data)
			if got := volume(mustDecode(t, data).Mesh()); !near(got, v.volume, 1e-5*math.Abs(v.volume)) {
				t.Errorf("volume %v, lib3mf %v", got, v.volume)
			}
		})
	}
}
