"""Drawing: findings as lines and words on a page, and pages as SVG, HTML or PDF."""
