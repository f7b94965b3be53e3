//go:build !race

package outbox

const raced = false
