// Command mutate asks whether tests hold the numbers of a package: it makes each one half as large again, then half as large, and runs the
// package's own short tests against either. A number that no test misses may be wrong without anybody noticing.
//
//	go run ./bot/internal/trial/mutate forecast/refill forecast/signal
//
// Asked about are the numbers in const declarations; with -all those in the rest of the code, too, but for indices and the lengths of arrays.
// Left out are 0, 1 and 2 unless they are all that a constant is but for a unit of time, what only converts units (24, 60, 1000, 3600, 86400 and 365.25 beside an operator), and numbers whose comment names where
// they come from: a year of publication, a section of the CFR, or "metered" (recomputed by a test from measured series). The comment
// is the one on the line, above it, or above a declaration that declares nothing else. -sourced asks about those, too.
//
// Sources stay as they are: the changed file is laid over the original for one run of the tests, which may take five times as long as
// unchanged, and ten seconds. Whoever works on something else meanwhile has it run by nice.
package main

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// number is a number in a source file.
type number struct {
	file, name, text string
	line, at         int // at is the byte offset
	sourced          bool
}

func main() {
	all := flag.Bool("all", false, "ask about numbers outside const declarations, too")
	sourced := flag.Bool("sourced", false, "ask about numbers with a source, too")
	only := flag.String("only", "", "ask only about what a `regexp` matches, by the name of the constant or function")
	flag.Parse()
	if flag.NArg() == 0 {
		fmt.Fprintln(os.Stderr, "mutate: error: no package given\nmutate: hint: name folders, such as forecast/refill")
		os.Exit(2)
	}
	names, err := regexp.Compile(*only)
	if err != nil {
		fmt.Fprintln(os.Stderr, "mutate: error:", err)
		os.Exit(2)
	}
	for _, dir := range flag.Args() {
		if err := mutate(dir, *all, *sourced, names); err != nil {
			fmt.Fprintln(os.Stderr, "mutate: error:", err)
			os.Exit(1)
		}
	}
}

// mutate prints which numbers of the package in dir, of those that the names match, no test holds.
func mutate(dir string, all, sourced bool, names *regexp.Regexp) error {
	numbers, err := find(dir, all)
	if err != nil {
		return err
	}
	numbers = slices.DeleteFunc(numbers, func(n number) bool { return !names.MatchString(n.name) })
	for _, made := range []string{filepath.Join(dir, "testdata"), filepath.Join(dir, "testdata", "rapid")} {
		if _, err := os.Stat(made); os.IsNotExist(err) { // property tests keep what failed there
			defer os.RemoveAll(made)
			break
		}
	}
	if out, err := test(dir, "", time.Hour); err != nil {
		return fmt.Errorf("tests of %s fail as they are:\n%s", dir, out)
	}
	began := time.Now()
	if out, err := test(dir, "", time.Hour); err != nil {
		return fmt.Errorf("tests of %s fail as they are:\n%s", dir, out)
	}
	limit := 5*time.Since(began) + 10*time.Second
	began = time.Now()
	held, published := 0, 0
	for _, n := range numbers {
		if n.sourced && !sourced {
			published++
			continue
		}
		missed := ""
		for _, factor := range []float64{1.5, 0.5} {
			killed, err := n.killed(dir, factor, limit)
			if err != nil {
				return err
			}
			if !killed {
				missed += fmt.Sprintf(" ×%g", factor)
			}
		}
		if missed == "" {
			held++
			continue
		}
		fmt.Printf("%s:%d: %s: %s: no test misses%s\n", n.file, n.line, n.name, n.text, missed)
	}
	fmt.Printf("%s: of %d numbers %d have a source, %d are held both ways, %d are not; %.0f s\n",
		dir, len(numbers), published, held, len(numbers)-published-held, time.Since(began).Seconds())
	return nil
}

// find finds the numbers of the package in dir.
func find(dir string, all bool) (out []number, err error) {
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return nil, err
	}
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, file, nil, parser.ParseComments)
		if err != nil {
			return nil, err
		}
		var above []ast.Node
		ast.Inspect(f, func(n ast.Node) bool {
			if n == nil {
				above = above[:len(above)-1]
				return true
			}
			if lit, ok := n.(*ast.BasicLit); ok && asked(lit, above, all) {
				name, sourced := describe(above)
				at := set.Position(lit.Pos())
				out = append(out, number{file, name, lit.Value, at.Line, at.Offset, sourced})
			}
			above = append(above, n)
			return true
		})
	}
	return out, nil
}

// converts are numbers that convert units when they stand beside an operator.
var converts = map[string]bool{"24": true, "24.0": true, "60": true, "1000": true, "3600": true, "86400": true, "365.25": true}

// asked reports whether a literal below the nodes above is a number to ask about.
func asked(lit *ast.BasicLit, above []ast.Node, all bool) bool {
	x, err := strconv.ParseFloat(strings.ReplaceAll(lit.Value, "_", ""), 64)
	if lit.Kind != token.INT && lit.Kind != token.FLOAT || err != nil || x == 0 {
		return false
	}
	alone := false
	switch parent := above[len(above)-1].(type) {
	case *ast.BinaryExpr:
		_, alone = parent.Y.(*ast.SelectorExpr)
		if converts[lit.Value] {
			return false
		}
	case *ast.ValueSpec:
		alone = true
	}
	if (x == 1 || x == 2) && !alone {
		return false
	}
	for _, n := range above {
		switch n := n.(type) {
		case *ast.IndexExpr, *ast.SliceExpr, *ast.ArrayType:
			return false
		case *ast.GenDecl:
			all = all || n.Tok == token.CONST
		}
	}
	return all
}

// published is what a comment has in it that names a source.
var published = regexp.MustCompile(`\b(1[89]|20)\d\d\b|\bCFR\b|\bmetered\b`)

// describe is what declares the number below the nodes above, and whether a comment there names its source.
func describe(above []ast.Node) (name string, sourced bool) {
	for _, n := range above {
		switch n := n.(type) {
		case *ast.FuncDecl:
			name, sourced = n.Name.Name, false
		case *ast.GenDecl:
			sourced = len(n.Specs) == 1 && published.MatchString(n.Doc.Text())
		case *ast.ValueSpec:
			name = n.Names[0].Name
			sourced = sourced || published.MatchString(n.Doc.Text()) || published.MatchString(n.Comment.Text())
		}
	}
	return name, sourced
}

// killed reports whether a test fails or takes too long, or the package does not compile, which is said, with the number times factor.
func (n number) killed(dir string, factor float64, limit time.Duration) (bool, error) {
	x, err := strconv.ParseFloat(strings.ReplaceAll(n.text, "_", ""), 64)
	if err != nil {
		return false, fmt.Errorf("%s:%d: %s: %w", n.file, n.line, n.text, err)
	}
	changed := strconv.FormatFloat(x*factor, 'g', -1, 64)
	if !strings.ContainsAny(n.text, ".eE") {
		changed = strconv.Itoa(int(x * factor))
		if changed == n.text { // a half of 1 is 0, half as much again 2
			changed = strconv.Itoa(int(x) + 1)
		}
	}
	src, err := os.ReadFile(n.file)
	if err != nil {
		return false, err
	}
	tmp, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return false, err
	}
	defer os.RemoveAll(tmp)
	mutant, overlay := filepath.Join(tmp, "mutant.go"), filepath.Join(tmp, "overlay.json")
	text := string(src[:n.at]) + changed + string(src[n.at+len(n.text):])
	original, err := filepath.Abs(n.file)
	if err != nil {
		return false, err
	}
	lay, err := json.Marshal(map[string]map[string]string{"Replace": {original: mutant}})
	if err != nil {
		return false, err
	}
	if err := errors.Join(os.WriteFile(mutant, []byte(text), 0o600), os.WriteFile(overlay, lay, 0o600)); err != nil {
		return false, err
	}
	report, err := test(dir, overlay, limit)
	if strings.Contains(report, "[build failed]") { // the compiler holds it
		fmt.Printf("%s:%d: %s ×%g does not compile\n", n.file, n.line, n.name, factor)
	}
	return err != nil, nil
}

// test runs the tests of the package in dir, with an overlay if there is one.
func test(dir, overlay string, limit time.Duration) (string, error) {
	args := []string{"test", "-short", "-failfast", "-count=1", "-p=1", "-vet=off", "-ldflags=-s -w", "-timeout=" + limit.String()}
	if overlay != "" {
		args = append(args, "-overlay", overlay)
	}
	out, err := exec.Command("go", append(args, "./"+filepath.ToSlash(filepath.Clean(dir)))...).CombinedOutput()
	return string(out), err
}
