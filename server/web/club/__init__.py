"""What members share with each other, and what the club lends: in the hosted form alone."""
