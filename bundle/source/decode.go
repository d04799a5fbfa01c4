package source

import (
	"errors"
	"fmt"
	"reflect"
	"strings"

	"dropwright/bundle/finding"
)

// The interfaces below are what a typed value may implement to say how it is written. They use only plain
// types and places, so that the model packages need not import this one.

// Setter is a value read from one scalar. quoted tells '2' from 2.
type Setter interface {
	SetText(text string, quoted bool) error
}

// Placed is a value that keeps its place.
type Placed interface {
	SetPlace(at finding.Place)
}

// ScalarFormer, ListFormer and MapFormer are values that may be written in that shape; each returns a
// pointer to what a node of the shape is decoded into, or nil when it is not allowed after all.
type ScalarFormer interface{ ScalarForm() any }

// ListFormer: see ScalarFormer.
type ListFormer interface{ ListForm() any }

// MapFormer: see ScalarFormer.
type MapFormer interface{ MapForm() any }

// Keyed is a map whose keys are the maker's own names. Entry returns a pointer to decode the value into, or
// an error that says what is wrong with the key.
type Keyed interface {
	Entry(key string, at finding.Place) (any, error)
}

// Worded is a text that must be one of a few words.
type Worded interface{ Words() []string }

// Coded is an error that belongs under another code than value-wrong, or has a hint of its own.
type Coded interface {
	error
	Finding() (code, hint string)
}

// Decode fills into (a pointer) from the node and returns what does not fit. What fits is filled even when
// something else does not, so that later checks can still speak about the rest.
//
// Struct fields are named by the tag `yaml:"key"`; `need:"yes"` makes one required; `eg:"…"` is an example
// for hints and the schema; `doc:"…"` describes it.
func Decode(n *Node, into any) []finding.Finding {
	d := decoder{}
	d.value("", n, reflect.ValueOf(into))
	return d.found
}

type decoder struct{ found []finding.Finding }

func (d *decoder) add(code string, at finding.Place, text, hint string) {
	d.found = append(d.found, finding.New(code, at, text, hint))
}

func named(key, text string) string {
	if key == "" {
		return text
	}
	return key + ": " + text
}

// value decodes n into the pointer p. key is the name to say in messages.
func (d *decoder) value(key string, n *Node, p reflect.Value) {
	v := p.Interface()
	if s, ok := v.(Placed); ok {
		s.SetPlace(n.At)
	}
	if n.Kind == Null {
		d.add("value-missing", n.At, named(key, "nothing stands here"), "give it a value or remove the key; a text that starts with # needs quotes")
		return
	}
	if form := formFor(n.Kind, v); form != nil {
		d.value(key, n, reflect.ValueOf(form))
		return
	}
	e := p.Elem()
	if e.Kind() == reflect.Pointer { // an optional part of the model: made when it is written
		e.Set(reflect.New(e.Type().Elem()))
		d.value(key, n, e)
		return
	}
	switch {
	case implements[Setter](v):
		if n.Kind != Scalar {
			d.wrongKind(key, n, v)
			return
		}
		d.failed(key, n, v.(Setter).SetText(n.Text, n.Quoted))
	case implements[Worded](v):
		d.word(key, n, e, v.(Worded).Words())
	case implements[Keyed](v):
		if n.Kind != Map {
			d.wrongKind(key, n, v)
			return
		}
		d.keyed(n, v.(Keyed))
	case e.Kind() == reflect.Struct && !onlyForms(v):
		if n.Kind != Map {
			d.wrongKind(key, n, v)
			return
		}
		d.fields(n, e)
	case e.Kind() == reflect.Slice:
		if n.Kind != List {
			d.wrongKind(key, n, v)
			return
		}
		out := reflect.MakeSlice(e.Type(), len(n.Items), len(n.Items))
		e.Set(out)
		for i, it := range n.Items {
			d.value(key, it, e.Index(i).Addr())
		}
	default:
		d.wrongKind(key, n, v)
	}
}

func implements[T any](v any) bool { _, ok := v.(T); return ok }

// onlyForms reports whether the value is written in some shapes only by its forms, so that its own fields
// are not keys.
func onlyForms(v any) bool {
	return implements[ScalarFormer](v) || implements[ListFormer](v) || implements[MapFormer](v)
}

func formFor(k Kind, v any) any {
	switch k {
	case Scalar:
		if f, ok := v.(ScalarFormer); ok {
			return f.ScalarForm()
		}
	case List:
		if f, ok := v.(ListFormer); ok {
			return f.ListForm()
		}
	case Map:
		if f, ok := v.(MapFormer); ok {
			return f.MapForm()
		}
	}
	return nil
}

func (d *decoder) failed(key string, n *Node, err error) {
	if err == nil {
		return
	}
	var c Coded
	if errors.As(err, &c) {
		code, hint := c.Finding()
		d.add(code, n.At, named(key, c.Error()), hint)
		return
	}
	d.add("value-wrong", n.At, named(key, err.Error()), "mend the value in this line")
}

func (d *decoder) word(key string, n *Node, e reflect.Value, words []string) {
	if n.Kind != Scalar {
		d.add("value-wrong", n.At, named(key, fmt.Sprintf("expected one of %s, found %s", strings.Join(words, ", "), n.Kind)), "write one word")
		return
	}
	for _, w := range words {
		if n.Text == w {
			e.SetString(w)
			return
		}
	}
	hint := "write one of: " + strings.Join(words, ", ")
	if near := finding.Nearest(n.Text, words); near != "" {
		hint = "did you mean " + near + "?"
	}
	d.add("value-wrong", n.At, named(key, fmt.Sprintf("expected one of %s, found %q", strings.Join(words, ", "), n.Text)), hint)
}

func (d *decoder) keyed(n *Node, k Keyed) {
	for _, p := range n.Pairs {
		into, err := k.Entry(p.Key, p.KeyAt)
		if err != nil {
			d.failed("", &Node{At: p.KeyAt}, err)
			continue
		}
		d.value(p.Key, p.Value, reflect.ValueOf(into))
	}
}

// Field is one key of a struct: its name in the manifest and its tags.
type Field struct {
	Key      string
	Required bool
	Example  string
	Doc      string
	Index    []int
}

// Fields lists the keys of a struct type in the order of its fields; embedded structs are flattened.
func Fields(t reflect.Type) []Field {
	var out []Field
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous && f.Type.Kind() == reflect.Struct {
			for _, g := range Fields(f.Type) {
				g.Index = append([]int{i}, g.Index...)
				out = append(out, g)
			}
			continue
		}
		key := f.Tag.Get("yaml")
		if key == "" {
			continue
		}
		out = append(out, Field{Key: key, Required: f.Tag.Get("need") == "yes", Example: f.Tag.Get("eg"), Doc: f.Tag.Get("doc"), Index: []int{i}})
	}
	return out
}

func (d *decoder) fields(n *Node, e reflect.Value) {
	fields := Fields(e.Type())
	var keys []string
	for _, f := range fields {
		keys = append(keys, f.Key)
	}
	meant := map[string]bool{} // keys that a misspelt one stood for: not missing as well
pairs:
	for _, p := range n.Pairs {
		for _, f := range fields {
			if f.Key == p.Key {
				d.value(p.Key, p.Value, e.FieldByIndex(f.Index).Addr())
				continue pairs
			}
		}
		hint := "known here: " + strings.Join(keys, ", ")
		near := finding.Nearest(p.Key, keys)
		if near != "" {
			hint = "did you mean " + near + "?"
		}
		d.add("key-unknown", p.KeyAt, fmt.Sprintf("unknown key %q", p.Key), hint)
		// Read the value as if the key were spelt right, so that one slip is not reported again wherever
		// something refers to what it lists.
		if near != "" && n.Get(near) == nil && !meant[near] {
			meant[near] = true
			for _, f := range fields {
				if f.Key == near {
					d.value(p.Key, p.Value, e.FieldByIndex(f.Index).Addr())
				}
			}
		}
	}
	for _, f := range fields {
		if f.Required && n.Get(f.Key) == nil && !meant[f.Key] {
			hint := "add " + f.Key + ": …"
			if f.Example != "" {
				hint = "add " + f.Key + ": " + f.Example
			}
			d.add("value-missing", n.At, fmt.Sprintf("%q is missing", f.Key), hint)
		}
	}
}

func (d *decoder) wrongKind(key string, n *Node, v any) {
	want := Shape(v)
	d.add("value-wrong", n.At, named(key, fmt.Sprintf("expected %s, found %s", want, n.Kind)), "write "+want+" here")
}

// Shape says in words how a value may be written: "a map", "a list", "one value", or several.
func Shape(v any) string {
	var out []string
	if implements[Setter](v) || implements[Worded](v) || implements[ScalarFormer](v) {
		out = append(out, "one value")
	}
	if implements[ListFormer](v) {
		out = append(out, "a list")
	}
	if implements[MapFormer](v) || implements[Keyed](v) {
		out = append(out, "a map")
	}
	if len(out) == 0 {
		switch t := reflect.TypeOf(v).Elem(); t.Kind() {
		case reflect.Slice:
			return "a list"
		case reflect.Struct:
			return "a map"
		}
	}
	if len(out) == 0 {
		return "another value"
	}
	return strings.Join(out, " or ")
}
