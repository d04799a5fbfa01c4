package board

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"dropwright/bundle/finding"
)

// builtins reads one built-in profile at first use and keeps it.
var builtins struct {
	sync.Mutex
	read map[string]*Profile
}

// Builtin lists the ids of the built-in profiles, sorted.
func Builtin() []string {
	entries, err := profileFiles.ReadDir("profiles")
	if err != nil {
		return nil // cannot happen: the folder is part of the program
	}
	var ids []string
	for _, e := range entries {
		if id, ok := strings.CutSuffix(e.Name(), ".yaml"); ok && id != "connectors" {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	return ids
}

// Load returns a built-in profile; it must not be changed. The error names the nearest id for one
// that does not exist.
func Load(id string) (*Profile, error) {
	if !slices.Contains(Builtin(), id) {
		if near := finding.Nearest(id, Builtin()); near != "" {
			return nil, fmt.Errorf("no built-in board is called %q; did you mean %s?", id, near)
		}
		return nil, fmt.Errorf("no built-in board is called %q; built in are %s", id, strings.Join(Builtin(), ", "))
	}
	builtins.Lock()
	defer builtins.Unlock()
	if p, ok := builtins.read[id]; ok {
		return p, nil
	}
	data, err := BuiltinText(id)
	if err != nil {
		return nil, err
	}
	p, found := Parse(id+".yaml", data)
	if p == nil || finding.Count(found, finding.Error) > 0 {
		return nil, fmt.Errorf("built-in board %q: %v: %s", id, found[0].At, found[0].Text)
	}
	if builtins.read == nil {
		builtins.read = map[string]*Profile{}
	}
	builtins.read[id] = p
	return p, nil
}

// BuiltinText returns the YAML text of a built-in profile, for a maker who wants to start from it.
func BuiltinText(id string) ([]byte, error) {
	data, err := profileFiles.ReadFile("profiles/" + id + ".yaml")
	if err != nil {
		return nil, fmt.Errorf("built-in board %q: %w", id, err)
	}
	return data, nil
}
