package design

import (
	"fmt"

	"dropwright/bundle/finding"
)

// ByVariant is a value that is either the same for all variants or given by a map from variant to value.
type ByVariant[T any] struct {
	At   finding.Place
	All  *Val[T]
	Each []VariantValue[T]
}

// VariantValue is one entry of such a map.
type VariantValue[T any] struct {
	Variant Val[Name]
	Value   Val[T]
}

// SetPlace keeps the place.
func (b *ByVariant[T]) SetPlace(at finding.Place) { b.At = at }

// ScalarForm decodes the one value for all.
func (b *ByVariant[T]) ScalarForm() any { b.All = new(Val[T]); return b.All }

// MapForm decodes the map by variant.
func (b *ByVariant[T]) MapForm() any { return (*byVariantMap[T])(b) }

type byVariantMap[T any] ByVariant[T]

// Entry makes room for one variant's value.
func (b *byVariantMap[T]) Entry(key string, at finding.Place) (any, error) {
	v := VariantValue[T]{Variant: Val[Name]{V: Name(key), At: at}}
	b.Each = append(b.Each, v)
	return &b.Each[len(b.Each)-1].Value, nil
}

// Set reports whether it was written.
func (b ByVariant[T]) Set() bool { return b.At.Known() }

// For returns the value for a variant; false when it was not written or the map leaves the variant out.
func (b ByVariant[T]) For(variant string) (Val[T], bool) {
	if b.All != nil {
		return *b.All, true
	}
	for _, e := range b.Each {
		if string(e.Variant.V) == variant {
			return e.Value, true
		}
	}
	return Val[T]{}, false
}

// Values returns every value written, in order.
func (b ByVariant[T]) Values() []Val[T] {
	var out []Val[T]
	if b.All != nil {
		out = append(out, *b.All)
	}
	for _, e := range b.Each {
		out = append(out, e.Value)
	}
	return out
}

// OneOrMore is a list that may be written as its single value.
type OneOrMore[T any] struct {
	At    finding.Place
	Items []Val[T]
}

// SetPlace keeps the place.
func (o *OneOrMore[T]) SetPlace(at finding.Place) { o.At = at }

// ScalarForm decodes a single value.
func (o *OneOrMore[T]) ScalarForm() any { o.Items = make([]Val[T], 1); return &o.Items[0] }

// ListForm decodes a list.
func (o *OneOrMore[T]) ListForm() any { return &o.Items }

// First returns the first value, the zero value when there is none.
func (o OneOrMore[T]) First() Val[T] {
	if len(o.Items) == 0 {
		return Val[T]{}
	}
	return o.Items[0]
}

// Range is a number that may be written as one value or as [lowest, highest].
type Range[T any] struct {
	At     finding.Place
	Bounds []Val[T] // one or two after a clean decode
}

// SetPlace keeps the place.
func (r *Range[T]) SetPlace(at finding.Place) { r.At = at }

// ScalarForm decodes a single value.
func (r *Range[T]) ScalarForm() any { r.Bounds = make([]Val[T], 1); return &r.Bounds[0] }

// ListForm decodes [lowest, highest].
func (r *Range[T]) ListForm() any { return &r.Bounds }

// Set reports whether it was written.
func (r Range[T]) Set() bool { return r.At.Known() && len(r.Bounds) > 0 }

// Low returns the lowest value.
func (r Range[T]) Low() T { return r.Bounds[0].V }

// High returns the highest value; for a single value, the same.
func (r Range[T]) High() T { return r.Bounds[len(r.Bounds)-1].V }

// Dict is a map from names of the maker's choosing to values, in the order of the file.
type Dict[T any] struct {
	At      finding.Place
	Entries []DictEntry[T]
}

// DictEntry is one entry of a Dict.
type DictEntry[T any] struct {
	Key   string
	KeyAt finding.Place
	Value T
}

// SetPlace keeps the place.
func (d *Dict[T]) SetPlace(at finding.Place) { d.At = at }

// Entry makes room for a key's value.
func (d *Dict[T]) Entry(key string, at finding.Place) (any, error) {
	if key == "" || len(key) > 100 {
		return nil, fmt.Errorf("expected a name of 1 to 100 bytes, found %q", key)
	}
	d.Entries = append(d.Entries, DictEntry[T]{Key: key, KeyAt: at})
	return &d.Entries[len(d.Entries)-1].Value, nil
}

// Get returns the value of a key.
func (d Dict[T]) Get(key string) (T, bool) {
	for _, e := range d.Entries {
		if e.Key == key {
			return e.Value, true
		}
	}
	var zero T
	return zero, false
}

// Keys returns the keys in order.
func (d Dict[T]) Keys() []string {
	var out []string
	for _, e := range d.Entries {
		out = append(out, e.Key)
	}
	return out
}

// Only is the list of variants that an entry is for; empty means all.
type Only []Val[Name]

// Has reports whether the entry is for the variant.
func (o Only) Has(variant string) bool {
	if len(o) == 0 {
		return true
	}
	for _, n := range o {
		if string(n.V) == variant {
			return true
		}
	}
	return false
}
