package adjustertest

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strconv"
)

// untranslated names each phrase that the Go sources of a folder give to Move.In and that a language there,
// written as an adjuster.Language with its Words, has no words for. What Say says in other ways it cannot see.
func untranslated(folder string) ([]string, error) {
	files, err := filepath.Glob(filepath.Join(folder, "*.go"))
	if err != nil {
		return nil, err
	}
	var phrases []phrase
	var languages []map[string]bool
	sources := token.NewFileSet()
	for _, name := range files {
		file, err := parser.ParseFile(sources, name, nil, parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.CallExpr:
				if text, ok := phraseOf(n); ok {
					phrases = append(phrases, phrase{sources.Position(n.Pos()), text})
				}
			case *ast.KeyValueExpr:
				if words, ok := wordsOf(n); ok {
					languages = append(languages, words)
				}
			}
			return true
		})
	}
	var out []string
	for _, p := range phrases {
		for _, words := range languages {
			if !words[p.text] {
				out = append(out, fmt.Sprintf("%s: a language has no words for %q", p.at, p.text))
			}
		}
	}
	return out, nil
}

// phrase is one text given to Move.In.
type phrase struct {
	at   token.Position
	text string
}

// phraseOf gives the text of a call like m.In("Take out %s.").
func phraseOf(call *ast.CallExpr) (string, bool) {
	function, ok := call.Fun.(*ast.SelectorExpr)
	if !ok || function.Sel.Name != "In" || len(call.Args) != 1 {
		return "", false
	}
	return textOf(call.Args[0])
}

// wordsOf gives the keys of an entry like Words: map[string]string{"turn": "vuelta"}.
func wordsOf(entry *ast.KeyValueExpr) (map[string]bool, bool) {
	name, ok := entry.Key.(*ast.Ident)
	if !ok || name.Name != "Words" {
		return nil, false
	}
	list, ok := entry.Value.(*ast.CompositeLit)
	if !ok {
		return nil, false
	}
	words := map[string]bool{}
	for _, e := range list.Elts {
		if pair, ok := e.(*ast.KeyValueExpr); ok {
			if text, ok := textOf(pair.Key); ok {
				words[text] = true
			}
		}
	}
	return words, true
}

func textOf(e ast.Expr) (string, bool) {
	literal, ok := e.(*ast.BasicLit)
	if !ok || literal.Kind != token.STRING {
		return "", false
	}
	text, err := strconv.Unquote(literal.Value)
	return text, err == nil
}
