package bom

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// htmlValidate is the conformance checker of npm's html-validate, installed by `npm ci` in .ci/npm.
const htmlValidate = "../../.ci/npm/node_modules/.bin/html-validate"

// TestPageConforms holds the bill's page against html-validate's rules for conforming documents and for
// accessibility, and holds that it rejects a page that does not conform.
func TestPageConforms(t *testing.T) {
	if testing.Short() {
		t.Skip("starts node")
	}
	_, noNode := exec.LookPath("node")
	_, noTool := os.Stat(htmlValidate)
	if noNode != nil || noTool != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatal("html-validate is needed here: run npm ci in .ci/npm")
		}
		t.Skip("SKIPPED LOUDLY: html-validate is not installed; run npm ci in .ci/npm")
	}
	var page bytes.Buffer
	if err := twins().WriteHTML(&page); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "bom.html")
	check := func(page string) (string, error) {
		if err := os.WriteFile(file, []byte(page), 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(htmlValidate, "--preset", "standard,a11y,document", file).CombinedOutput()
		return string(out), err
	}
	if out, err := check(page.String()); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	if _, err := check(strings.Replace(page.String(), "<h1>", "<p><div>", 1)); err == nil {
		t.Error("html-validate takes a div inside a paragraph")
	}
}
