package bundle_test

import (
	"archive/zip"
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// absent skips a test whose outside program is not there, and fails where the whole suite must run.
func absent(t *testing.T, what string, err error) {
	t.Helper()
	if os.Getenv("DROPWRIGHT_CI") != "" {
		t.Fatalf("%s is needed here: %v", what, err)
	}
	t.Skipf("NOT CHECKED: %s: %v", what, err)
}

// TestLib3mfReadsModels: Debian's lib3mf reads every 3MF of every bundle of the season without error or warning,
// and rejects one that was cut short.
func TestLib3mfReadsModels(t *testing.T) {
	all := season(t)
	dir := t.TempDir()
	program := filepath.Join(dir, "lib3mf_read")
	out, err := exec.Command("g++", "-O1", "-D__GCC", "-I/usr/include/lib3mf", "-o", program, "mesh/threemf/testdata/lib3mf_read.cpp", "-l3MF").CombinedOutput()
	if err != nil {
		absent(t, "g++ with lib3mf-dev: "+string(out), err)
	}
	judge := func(body []byte) string {
		file := filepath.Join(dir, "x.3mf")
		if err := os.WriteFile(file, body, 0o600); err != nil {
			t.Fatal(err)
		}
		line, err := exec.Command(program, file).Output()
		if err != nil {
			t.Fatal(err)
		}
		return string(line)
	}
	var one []byte
	for name, data := range all {
		for file, body := range files(t, data) {
			if !strings.HasSuffix(file, ".3mf") {
				continue
			}
			if line := judge(body); !strings.Contains(line, " ok warnings=0 ") {
				t.Errorf("%s: %s: %s", name, file, line)
			}
			one = body
		}
	}
	if line := judge(one[:len(one)/2]); strings.Contains(line, " ok ") {
		t.Errorf("half a file passes: %s", line)
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
