package main

import (
	"fmt"
	"maps"
	"net/http"
	"os"
	"slices"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"

	"dropwright/series/target/storetest"
)

// storeOf starts a store on loopback for a script, with the buckets early and shelf, each with a key of its own, and
// common, which takes any key. Its address is $STORE.
//
// Commands: bucket NAME prints how many objects a bucket holds, and their names; object BUCKET NAME prints one; answers 503|404|… lets
// the store answer so from now on, answers well lets it work again; requests prints how many came.
func storeOf(e *testscript.Env) {
	s := storetest.Start("early", "shelf", "common")
	s.Owner("early", "AKIDEARLYEXAMPLE")
	s.Owner("shelf", "AKIDSHELFEXAMPLE")
	e.Defer(s.Close)
	e.Values[storeValue{}] = s
	e.Setenv("STORE", s.URL)
}

type storeValue struct{}

func theStore(ts *testscript.TestScript) *storetest.Server {
	return ts.Value(storeValue{}).(*storetest.Server)
}

func bucketCmd(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: bucket NAME")
	}
	names := slices.Sorted(maps.Keys(theStore(ts).Tree(args[0])))
	fmt.Fprintf(ts.Stdout(), "%d objects\n%s\n", len(names), strings.Join(names, "\n"))
}

func objectCmd(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: object BUCKET NAME")
	}
	data, ok := theStore(ts).Tree(args[0])[args[1]]
	if !ok {
		ts.Fatalf("%s holds no %s", args[0], args[1])
	}
	fmt.Fprint(ts.Stdout(), data)
}

func answersCmd(ts *testscript.TestScript, neg bool, args []string) {
	status := 0
	if len(args) != 1 || args[0] != "well" && !scan(args[0], &status) {
		ts.Fatalf("usage: answers well|STATUS")
	}
	theStore(ts).Faults(func(storetest.Op) storetest.Fault { return storetest.Fault{Status: status, Code: "Test"} })
}

func scan(word string, n *int) bool {
	_, err := fmt.Sscan(word, n)
	return err == nil
}

func requestsCmd(ts *testscript.TestScript, neg bool, args []string) {
	fmt.Fprintln(ts.Stdout(), theStore(ts).Ops())
}

// opensCmd follows every address of a file: opens FILE STATUS.
func opensCmd(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: opens FILE STATUS")
	}
	n := 0
	for line := range strings.Lines(strings.ReplaceAll(ts.ReadFile(args[0]), "$STORE", ts.Getenv("STORE"))) {
		if !strings.HasPrefix(line, "http") {
			continue
		}
		r, err := http.Get(strings.TrimSpace(line))
		ts.Check(err)
		r.Body.Close()
		if fmt.Sprint(r.StatusCode) != args[1] {
			ts.Fatalf("%.60s… gives %d, want %s", line, r.StatusCode, args[1])
		}
		n++
	}
	if n == 0 {
		ts.Fatalf("%s holds no address", args[0])
	}
}

// subst replaces $STORE in a file: subst FILE.
func substCmd(ts *testscript.TestScript, neg bool, args []string) {
	for _, f := range args {
		ts.Check(os.WriteFile(ts.MkAbs(f), []byte(strings.ReplaceAll(ts.ReadFile(f), "$STORE", ts.Getenv("STORE"))), 0o666))
	}
}
