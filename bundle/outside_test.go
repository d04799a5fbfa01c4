package bundle_test

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"dropwright/bundle/mesh/threemf"
)

// absent skips a test whose outside program is not there, and fails where the whole suite must run.
func absent(t *testing.T, what string, err error) {
	t.Helper()
	if os.Getenv("DROPWRIGHT_CI") != "" {
		t.Fatalf("%s is needed here: %v", what, err)
	}
	t.Skipf("NOT CHECKED: %s: %v", what, err)
}

// lib3mfProgram compiles the reader that asks Debian's lib3mf.
func lib3mfProgram(t *testing.T) string {
	t.Helper()
	program := filepath.Join(t.TempDir(), "lib3mf_read")
	out, err := exec.Command("g++", "-O1", "-D__GCC", "-I/usr/include/lib3mf", "-o", program, "mesh/threemf/testdata/lib3mf_read.cpp", "-l3MF").CombinedOutput()
	if err != nil {
		absent(t, "g++ with lib3mf-dev: "+string(out), err)
	}
	return program
}

// modelItem is one thing that lies in a 3MF, as somebody reads it.
type modelItem struct {
	name, material, colour string
	volume                 float64
	box                    [6]float64 // least x, y, z, largest x, y, z
}

var modelLine = regexp.MustCompile(`^item volume=(\S+) box=(\S+) colour=(\S+) material=(\S*) name=(.*)$`)

// lib3mfItems is what lib3mf says of a file: no error, how many warnings, and its items.
func lib3mfItems(t *testing.T, program string, body []byte) (ok bool, list []modelItem) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "x.3mf")
	if err := os.WriteFile(file, body, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(program, "-i", file).Output()
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(out)) {
		line = strings.TrimSuffix(line, "\n")
		if strings.Contains(line, " ok warnings=0 ") {
			ok = true
		}
		m := modelLine.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		x := modelItem{name: m[5], material: m[4], colour: m[3]}
		x.volume, _ = strconv.ParseFloat(m[1], 64)
		for i, s := range strings.Split(m[2], ",") {
			x.box[i], _ = strconv.ParseFloat(s, 64)
		}
		list = append(list, x)
	}
	return ok, list
}

// ourItems is what we read from the same file.
func ourItems(t *testing.T, body []byte) (list []modelItem) {
	t.Helper()
	m, err := threemf.Decode(bytes.NewReader(body), int64(len(body)))
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range m.Items() {
		x := modelItem{name: s.Name, colour: "none", volume: volume(s.Mesh)}
		if len(s.Materials) == 1 {
			c := s.Materials[0].Color
			x.material, x.colour = s.Materials[0].Name, fmt.Sprintf("#%02x%02x%02x%02x", c.R, c.G, c.B, c.A)
		}
		lo, hi := box(s.Mesh)
		for c := range 3 {
			x.box[c], x.box[3+c] = float64(lo[c]), float64(hi[c])
		}
		list = append(list, x)
	}
	return list
}

// alike tells in what two readers differ. lib3mf keeps places as 32-bit numbers: 1e-4 mm in a coordinate of 100 mm,
// 1e-5 of a volume.
func (x modelItem) alike(y modelItem) error {
	if x.name != y.name || x.material != y.material || x.colour != y.colour {
		return fmt.Errorf("%s in %s %s, and %s in %s %s", x.name, x.material, x.colour, y.name, y.material, y.colour)
	}
	if math.Abs(x.volume-y.volume) > 1e-5*math.Abs(y.volume) {
		return fmt.Errorf("%s: %v and %v mm3", x.name, x.volume, y.volume)
	}
	for c := range x.box {
		if math.Abs(x.box[c]-y.box[c]) > 1e-4 {
			return fmt.Errorf("%s: box %v and %v", x.name, x.box, y.box)
		}
	}
	return nil
}

// TestLib3mfReadsModels: Debian's lib3mf reads every 3MF of every bundle of the season without error or warning, and
// finds the items, names, colours, volumes and boxes that we do. It rejects a file cut short; and the comparison
// notices another colour.
func TestLib3mfReadsModels(t *testing.T) {
	all := season(t)
	program := lib3mfProgram(t)
	var one []byte
	models, assemblies := 0, 0
	for name, data := range all {
		for file, body := range files(t, data) {
			if !strings.HasSuffix(file, ".3mf") {
				continue
			}
			models++
			if strings.HasSuffix(file, "assembly.3mf") {
				assemblies++
			}
			ok, theirs := lib3mfItems(t, program, body)
			ours := ourItems(t, body)
			if !ok || len(theirs) != len(ours) || len(ours) == 0 {
				t.Errorf("%s: %s: without error and warning: %v; %d items, ours %d", name, file, ok, len(theirs), len(ours))
				continue
			}
			for i := range ours {
				if err := theirs[i].alike(ours[i]); err != nil {
					t.Errorf("%s: %s: lib3mf and we: %v", name, file, err)
				}
				for c := range 3 {
					if ours[i].box[c] < 0 {
						t.Errorf("%s: %s: %s reaches out of the positive octant: %v", name, file, ours[i].name, ours[i].box)
					}
				}
			}
			one = body
		}
	}
	if models < 10 || assemblies < 2 {
		t.Errorf("only %d models seen, %d assemblies", models, assemblies)
	}
	if ok, _ := lib3mfItems(t, program, one[:len(one)/2]); ok {
		t.Error("half a file passes")
	}
	ours := ourItems(t, one)
	wrong := ours[0]
	wrong.colour = "#000000ff"
	if wrong.alike(ours[0]) == nil {
		t.Error("another colour passes")
	}
}

// revisionTime is the time of a bundle's files in seconds since 1970.
func revisionTime(t *testing.T, data []byte) string {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	return strconv.FormatInt(r.File[0].Modified.Unix(), 10)
}

// TestOutsideReaders: Python's zipfile opens every bundle and finds no bad file, strip-nondeterminism has nothing to
// change, exiftool finds nothing private in any file. Each is shown something wrong as well.
func TestOutsideReaders(t *testing.T) {
	all := season(t)
	dir := t.TempDir()
	for _, program := range []string{"python3", "strip-nondeterminism", "exiftool"} {
		if _, err := exec.LookPath(program); err != nil {
			absent(t, program, err)
		}
	}
	for name, data := range all {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
		const python = "import sys,zipfile; z=zipfile.ZipFile(sys.argv[1]); bad=z.testzip(); sys.exit(str(bad) if bad else 0)"
		if out, err := exec.Command("python3", "-c", python, file).CombinedOutput(); err != nil {
			t.Errorf("%s: zipfile: %v %s", name, err, out)
		}
		if out, err := exec.Command("env", "TZ=UTC", "strip-nondeterminism", "-t", "zip", "-T", revisionTime(t, data), file).CombinedOutput(); err != nil {
			t.Errorf("%s: strip-nondeterminism: %v %s", name, err, out)
		}
		after, err := os.ReadFile(file)
		if err != nil || string(after) != string(data) {
			t.Errorf("%s: strip-nondeterminism found something to change", name)
		}
	}
	tree := filepath.Join(dir, "tree")
	for name, data := range all {
		for file, body := range files(t, data) {
			to := filepath.Join(tree, name, filepath.FromSlash(file))
			if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(to, body, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	private := func() string {
		out, err := exec.Command("exiftool", "-r", "-q", "-q", "-s", "-GPS*", "-SerialNumber", "-OwnerName", "-Artist", "-By-line", "-XPAuthor", "-LastModifiedBy", "-HostComputer", "-Make", "-Model", "-MakerNote*", "-XMP:all", "-IPTC:all", tree).CombinedOutput()
		if err != nil {
			t.Logf("exiftool: %v", err)
		}
		return strings.TrimSpace(string(out))
	}
	if found := private(); found != "" {
		t.Errorf("exiftool finds:\n%.2000s", found)
	}
	var picture string
	_ = filepath.Walk(tree, func(p string, _ os.FileInfo, _ error) error {
		if strings.HasSuffix(p, ".jpg") {
			picture = p
		}
		return nil
	})
	if out, err := exec.Command("exiftool", "-q", "-overwrite_original", "-Artist=Somebody", "-GPSLatitude=48", "-GPSLatitudeRef=N", picture).CombinedOutput(); err != nil {
		t.Fatalf("exiftool: %v %s", err, out)
	}
	if !strings.Contains(private(), "Somebody") {
		t.Error("exiftool does not find what was put in")
	}
}

// TestYauzlReadsBundles: the yauzl library (npm) opens every bundle of the season with strict names and reads every
// file to its end, each with the bytes that are in it for us; it rejects a zip with a byte changed, and one cut short.
func TestYauzlReadsBundles(t *testing.T) {
	all := season(t)
	const npm = "../.ci/npm"
	node, err := exec.LookPath("node")
	if err == nil {
		_, err = os.Stat(npm + "/node_modules/yauzl/index.js")
	}
	if err != nil {
		absent(t, "node with yauzl (npm ci in .ci/npm)", err)
	}
	// yauzl leaves sums of stored and of inflated bytes to its users: the contents are compared below.
	const script = `
const fs = require("node:fs"), crypto = require("node:crypto"), yauzl = require("yauzl");
(async () => {
  const out = {};
  for (const file of JSON.parse(fs.readFileSync(0))) {
    const sums = out[file] = {};
    try {
      const zip = await yauzl.openPromise(file, {strictFileNames: true, validateEntrySizes: true});
      for await (const entry of zip.eachEntry()) {
        const hash = crypto.createHash("sha256");
        for await (const part of await zip.openReadStreamPromise(entry)) hash.update(part);
        sums[entry.fileName] = hash.digest("hex");
      }
    } catch (e) { sums.error = String(e); }
  }
  process.stdout.write(JSON.stringify(out));
})();`
	read := func(files map[string][]byte) map[string]map[string]string {
		dir := t.TempDir()
		var names []string
		for name, data := range files {
			name = filepath.Join(dir, name)
			if err := os.WriteFile(name, data, 0o600); err != nil {
				t.Fatal(err)
			}
			names = append(names, name)
		}
		list, err := json.Marshal(names)
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(node, "-e", script)
		cmd.Dir, cmd.Stdin = npm, bytes.NewReader(list)
		text, err := cmd.Output()
		if err != nil {
			var exit *exec.ExitError
			if errors.As(err, &exit) {
				t.Fatalf("node: %v\n%s", err, exit.Stderr)
			}
			t.Fatal(err)
		}
		out := map[string]map[string]string{}
		if err := json.Unmarshal(text, &out); err != nil {
			t.Fatal(err)
		}
		named := map[string]map[string]string{}
		for name, sums := range out {
			named[filepath.Base(name)] = sums
		}
		return named
	}
	var one string
	for name, sums := range read(all) {
		one = name
		if sums["error"] != "" {
			t.Errorf("%s: %s", name, sums["error"])
		}
		want := files(t, all[name])
		if len(sums) != len(want) {
			t.Errorf("%s: yauzl finds %d files, want %d", name, len(sums), len(want))
		}
		for file, body := range want {
			if sum := sha256.Sum256(body); sums[strings.TrimSuffix(name, ".zip")+"/"+file] != hex.EncodeToString(sum[:]) {
				t.Errorf("%s: %s has other bytes for yauzl", name, file)
			}
		}
	}
	whole := all[one]
	cut := whole[:len(whole)-30]
	changed := bytes.Clone(whole)
	for i := range 8 { // in the list of the files, where the first one's name begins
		changed[bytes.LastIndex(changed, []byte("PK\x01\x02"))+46+i] = '/'
	}
	for name, sums := range read(map[string][]byte{"cut.zip": cut, "changed.zip": changed}) {
		if sums["error"] == "" {
			t.Errorf("yauzl accepts %s", name)
		}
	}
}
