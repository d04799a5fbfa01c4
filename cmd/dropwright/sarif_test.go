package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"dropwright/bundle/finding"
	"dropwright/bundle/source"
)

// TestSARIFFitsThePublishedSchema: what check prints of broken designs fits the schema that the standard
// publishes, as npm's package holds it (its release "rtm.5" of version 2.1.0), and a log with a level of our
// own invention does not.
func TestSARIFFitsThePublishedSchema(t *testing.T) {
	path := filepath.Join(repository(t), ".ci", "npm", "node_modules", "@microsoft", "jest-sarif", "lib", "schemas", "sarif-2.1.0-rtm.5.json")
	if _, err := os.Stat(path); err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatalf("the schema is needed here: run npm ci in .ci/npm: %v", err)
		}
		t.Skip("NOT CHECKED: the SARIF schema is not installed; run npm ci in .ci/npm")
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	doc, err := jsonschema.UnmarshalJSON(f)
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft4)
	if err := c.AddResource("sarif.json", doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("sarif.json")
	if err != nil {
		t.Fatal(err)
	}
	log := func(names ...string) []byte {
		a := testApp(t, filepath.Join(repository(t), "examples", "broken"))
		var out bytes.Buffer
		a.stdout, a.format = &out, "sarif"
		if err := a.check(names, checkOptions{}); err != nil && err != error(errFindings) {
			t.Fatal(err)
		}
		return out.Bytes()
	}
	valid := func(data []byte) error {
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		return schema.Validate(v)
	}
	data := log("count-short", "many", "mesh-no-variant", "mesh-open", "photo-located", "link-broken", "used-as-is", "key-misspelt")
	if err := valid(data); err != nil {
		t.Errorf("the log of the broken designs: %v", err)
	}
	if bytes.Count(data, []byte(`"ruleId"`)) < 18 || !bytes.Contains(data, []byte(`"justification"`)) || !bytes.Contains(data, []byte("not checked: ")) {
		t.Error("the log lacks results, suppressions or notifications")
	}
	for was, is := range map[string]string{`"version": "2.1.0"`: `"version": "2.2.0"`, `"level": "error"`: `"level": "grave"`, `"executionSuccessful"`: `"successful"`} {
		if valid([]byte(strings.Replace(string(data), was, is, 1))) == nil {
			t.Errorf("the schema takes %s", is)
		}
	}
}

// TestSARIFPlace: columns count characters where ours count bytes, and paths are references.
func TestSARIFPlace(t *testing.T) {
	text := source.NewText("designs/süd 1/design.yaml", []byte("title: Grüße, näher\n"))
	got := sarifPlace(finding.Place{File: text.File, Line: 1, Column: len("title: Grüße, ") + 1, Width: len("näher")}, texts{text.File: text})
	want := `{"physicalLocation":{"artifactLocation":{"uri":"designs/s%C3%BCd%201/design.yaml"},"region":{"startLine":1,"startColumn":15,"endColumn":20}}}`
	if b, _ := json.Marshal(got); string(b) != want {
		t.Errorf("got %s, want %s", b, want)
	}
}
