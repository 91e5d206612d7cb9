//! Bugs planted in a copy of the tree.
