package manifest

import (
	"bytes"
	"os"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

// TestSchemaAgreesWithTheDecoder validates the two example manifests with an independent validator
// (santhosh-tekuri/jsonschema) and has it reject what the decoder rejects.
func TestSchemaAgreesWithTheDecoder(t *testing.T) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("design.json", doc); err != nil {
		t.Fatal(err)
	}
	sch, err := c.Compile("design.json")
	if err != nil {
		t.Fatal(err)
	}
	load := func(data []byte) any {
		j, err := yaml.YAMLToJSON(data)
		if err != nil {
			t.Fatal(err)
		}
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(j))
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for _, n := range []string{"vent-minder.yaml", "other-forms.yaml"} {
		data, err := os.ReadFile("testdata/" + n)
		if err != nil {
			t.Fatal(err)
		}
		if err := sch.Validate(load(data)); err != nil {
			t.Errorf("%s: %v", n, err)
		}
		for _, wrong := range [][2]string{{"summary:", "sumary:"}, {"revision: 1.0.0", "revision: 1.0"}, {"fasteners:", "fasteners: 3\nfastenerz:"}} {
			bad := bytes.Replace(data, []byte(wrong[0]), []byte(wrong[1]), 1)
			if wrong[0] == "fasteners:" {
				bad = []byte("title: a\nsummary: b\nchanges: []\nparts: 3\n")
			}
			if err := sch.Validate(load(bad)); err == nil {
				t.Errorf("%s: the schema accepts %q", n, wrong[1])
			}
		}
	}
}
