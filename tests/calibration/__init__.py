"""How the tables' slack, confusable states and exhaustive characters were chosen: by how well independent sources agree."""
