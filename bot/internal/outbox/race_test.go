//go:build race

package outbox

const raced = true // everything takes ten times as long
