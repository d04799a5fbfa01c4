package source

import "dropwright/bundle/finding"

// Kind is the shape of a node.
type Kind int

// The shapes. A Null is a key with nothing behind it, or ~ or null written plainly.
const (
	Scalar Kind = iota
	Map
	List
	Null
)

// String names the kind for messages.
func (k Kind) String() string { return [...]string{"a text", "a map", "a list", "nothing"}[k] }

// Node is one value of the tree.
type Node struct {
	Kind   Kind
	At     finding.Place
	Text   string  // Scalar: the text as typed, quotes and escapes resolved
	Quoted bool    // Scalar: it stood in quotes or in a block
	Pairs  []Pair  // Map: in the order of the file
	Items  []*Node // List
}

// Pair is one key with its value.
type Pair struct {
	Key   string
	KeyAt finding.Place
	Value *Node
}

// Get returns the value of a key, or nil.
func (n *Node) Get(key string) *Node {
	if n == nil {
		return nil
	}
	for _, p := range n.Pairs {
		if p.Key == key {
			return p.Value
		}
	}
	return nil
}
