package main

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"dropwright/examples"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"dropwright": main})
}

// TestScripts runs every script of testdata/script against the real program as a process of its own. One
// subject a file; after each failure the script asserts that no output exists.
//
// Commands of ours: season DIR lays the demo season out; schema NAME FILE validates a JSON file against
// testdata/schema/NAME.json, or a schema that the program printed when NAME ends in .json; schemafails NAME FILE wants it to be rejected; zipnames FILE prints a zip's names;
// damage FILE changes one byte in the middle; unpack FILE DIR unpacks a zip. A script that needs an outside program begins with
// [!have:PROGRAM] skip.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		UpdateScripts:       os.Getenv("UPDATE_SCRIPTS") != "",
		Setup: func(e *testscript.Env) error {
			e.Setenv("TZ", "Europe/Lisbon")
			e.Setenv("DROPWRIGHT_CI", os.Getenv("DROPWRIGHT_CI"))
			e.Setenv("XDG_CACHE_HOME", filepath.Join(e.WorkDir, ".cache"))
			e.Setenv("HOME", e.WorkDir)
			e.Setenv("PATH", e.Getenv("PATH"))
			storeOf(e)
			return nil
		},
		Condition: have,
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"season":      seasonCmd,
			"broken":      brokenCmd,
			"schema":      func(ts *testscript.TestScript, neg bool, args []string) { schemaCmd(ts, args, true) },
			"schemafails": func(ts *testscript.TestScript, neg bool, args []string) { schemaCmd(ts, args, false) },
			"zipnames":    zipNamesCmd,
			"damage":      damageCmd,
			"bucket":      bucketCmd,
			"object":      objectCmd,
			"answers":     answersCmd,
			"requests":    requestsCmd,
			"subst":       substCmd,
			"opens":       opensCmd,
			"unpack":      unpackCmd,
			"meshcase":    meshCaseCmd,
			"replace":     replaceCmd,
			"freeport":    freePortCmd,
			"fetch":       fetchCmd,
		},
	})
}

func seasonCmd(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: season DIR")
	}
	copyTree(ts, examples.Season, args[0])
}

// brokenCmd copies one broken design into a series of its own: broken NAME DIR.
func brokenCmd(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: broken NAME DIR")
	}
	root, err := filepath.Abs(filepath.Join("..", "..", "examples", "broken"))
	ts.Check(err)
	data, err := os.ReadFile(filepath.Join(root, "series.yaml"))
	ts.Check(err)
	dir := ts.MkAbs(args[1])
	ts.Check(os.MkdirAll(dir, 0o777))
	ts.Check(os.WriteFile(filepath.Join(dir, "series.yaml"), data, 0o666))
	copyTree(ts, os.DirFS(filepath.Join(root, "designs", args[0])), filepath.Join(args[1], "designs", args[0]))
}

func copyTree(ts *testscript.TestScript, fsys fs.FS, to string) {
	dir := ts.MkAbs(to)
	ts.Check(fs.WalkDir(fsys, ".", func(p string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		out := filepath.Join(dir, filepath.FromSlash(p))
		if e.IsDir() {
			return os.MkdirAll(out, 0o777)
		}
		data, err := fs.ReadFile(fsys, p)
		if err != nil {
			return err
		}
		return os.WriteFile(out, data, 0o666)
	}))
}

func schemaCmd(ts *testscript.TestScript, args []string, want bool) {
	if len(args) != 2 {
		ts.Fatalf("usage: schema NAME FILE")
	}
	v, err := jsonschema.UnmarshalJSON(strings.NewReader(ts.ReadFile(args[1])))
	if err != nil {
		ts.Fatalf("%s is not JSON: %v", args[1], err)
	}
	from := filepath.Join("testdata", "schema", args[0]+".json")
	if strings.HasSuffix(args[0], ".json") { // one that the program printed
		from = ts.MkAbs(args[0])
	}
	sch, err := jsonschema.NewCompiler().Compile(from)
	ts.Check(err)
	err = sch.Validate(v)
	if want && err != nil {
		ts.Fatalf("%s does not fit the schema %s: %v", args[1], args[0], err)
	}
	if !want && err == nil {
		ts.Fatalf("the schema %s accepts %s", args[0], args[1])
	}
}

func zipNamesCmd(ts *testscript.TestScript, neg bool, args []string) {
	r, err := zip.OpenReader(ts.MkAbs(args[0]))
	ts.Check(err)
	defer r.Close()
	for _, f := range r.File {
		_, err := ts.Stdout().Write([]byte(f.Name + "\n"))
		ts.Check(err)
	}
}

func unpackCmd(ts *testscript.TestScript, neg bool, args []string) {
	r, err := zip.OpenReader(ts.MkAbs(args[0]))
	ts.Check(err)
	defer r.Close()
	for _, f := range r.File {
		in, err := f.Open()
		ts.Check(err)
		data, err := io.ReadAll(in)
		ts.Check(err)
		out := filepath.Join(ts.MkAbs(args[1]), filepath.FromSlash(f.Name))
		ts.Check(os.MkdirAll(filepath.Dir(out), 0o777))
		ts.Check(os.WriteFile(out, data, 0o666))
	}
}

func damageCmd(ts *testscript.TestScript, neg bool, args []string) {
	path := ts.MkAbs(args[0])
	data, err := os.ReadFile(path)
	ts.Check(err)
	data[len(data)/2] ^= 0x20
	ts.Check(os.WriteFile(path, data, 0o666))
}

// have is the condition [have:PROGRAM]: whether an outside program is installed. Absent, it is said loudly, and
// an error where DROPWRIGHT_CI is set, so that no outside check is lost unseen.
func have(cond string) (bool, error) {
	program, ok := strings.CutPrefix(cond, "have:")
	if !ok {
		return false, fmt.Errorf("unknown condition %q", cond)
	}
	if _, err := exec.LookPath(program); err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			return false, fmt.Errorf("%s is not installed, and this is CI", program)
		}
		fmt.Fprintf(os.Stderr, "SKIPPED: a script needs %s, which is not installed\n", program)
		return false, nil
	}
	return true, nil
}

// TestSchemasAreKept: the JSON Schemas beside the scripts are themselves valid schemas, and reject an empty
// object: a schema that takes anything checks nothing.
func TestSchemasAreKept(t *testing.T) {
	files, err := filepath.Glob("testdata/schema/*.json")
	if err != nil || len(files) == 0 {
		t.Fatalf("no schemas: %v", err)
	}
	for _, f := range files {
		sch, err := jsonschema.NewCompiler().Compile(f)
		if err != nil {
			t.Errorf("%s: %v", f, err)
			continue
		}
		for _, bad := range []string{"{}", "[{}]", "3"} {
			v, _ := jsonschema.UnmarshalJSON(strings.NewReader(bad))
			if sch.Validate(v) == nil {
				t.Errorf("%s accepts %s", f, bad)
			}
		}
		data, _ := os.ReadFile(f)
		if !json.Valid(data) || bytes.Contains(data, []byte("\t")) {
			t.Errorf("%s is not plain JSON", f)
		}
	}
}
