package sheet

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// htmlValidate is the conformance checker of npm's html-validate, installed by `npm ci` in .ci/npm.
const htmlValidate = "../../.ci/npm/node_modules/.bin/html-validate"

// TestPagesConform holds every demo page against html-validate's rules for conforming documents and for
// accessibility, and holds that it rejects a page that does not conform.
func TestPagesConform(t *testing.T) {
	if testing.Short() {
		t.Skip("starts node")
	}
	tool(t, "node")
	if _, err := os.Stat(htmlValidate); err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatal("html-validate is needed here: run npm ci in .ci/npm")
		}
		t.Skip("NOT CHECKED: html-validate is not installed; run npm ci in .ci/npm")
	}
	dir := t.TempDir()
	check := func(files ...string) (string, error) {
		out, err := exec.Command(htmlValidate, append([]string{"--preset", "standard,a11y,document"}, files...)...).CombinedOutput()
		return string(out), err
	}
	var files []string
	everyVariant(t, func(t *testing.T, name, variant string) {
		in, images := demo(t, name, variant, "en")
		file := filepath.Join(dir, name+"-"+variant+".html")
		if err := os.WriteFile(file, printed(t, Compose(in), images), 0o644); err != nil {
			t.Fatal(err)
		}
		files = append(files, file)
	})
	small := filepath.Join(dir, "bell.html")
	page := printed(t, Compose(bell(t, "de")), nil)
	if err := os.WriteFile(small, page, 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := check(append(files, small)...); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	bad := strings.Replace(string(page), "<main ", "<main><p><div>", 1)
	if err := os.WriteFile(small, []byte(bad), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := check(small); err == nil {
		t.Error("html-validate takes a div inside a paragraph")
	}
}
